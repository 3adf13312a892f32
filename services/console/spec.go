package console

import (
	"seamwright/services/calc/spec"
	"seamwright/services/intake"
)

// Spec asks what goes on each seam of a survey.
type Spec struct {
	Survey   string // file
	Products string // folder
}

type specAnswer struct {
	Seams []specSeam `json:"seams"`

	survey string
}

type specSeam struct {
	RO            string        `json:"ro"`
	Seam          string        `json:"seam"`
	Place         string        `json:"place"`
	Side          string        `json:"side"`
	Class         string        `json:"class"`
	Product       string        `json:"product"`
	Profile       string        `json:"profile"`
	Technique     string        `json:"technique"`
	Nozzle        string        `json:"nozzle"`
	NozzleCutMM   float64       `json:"nozzle_cut_mm"`
	WidthMM       *float64      `json:"width_mm"` // of the bead, by the survey; null: not known
	HeightMM      *float64      `json:"height_mm"`
	LengthMM      *float64      `json:"length_mm"`
	VolumeML      *float64      `json:"volume_ml"` // bead and wet bed; null: not known
	BedML         *float64      `json:"bed_ml"`    // of it the wet bed
	Layers        []string      `json:"layers"`
	Reasons       []specReason  `json:"reasons"`
	Warnings      []specWarning `json:"warnings"`
	Cautions      []string      `json:"cautions"`
	NeedsDecision bool          `json:"needs_decision"`
	Undecided     []string      `json:"undecided"`

	nozzle  spec.Nozzle
	unknown string // why there is no volume
}

type specReason struct {
	Rule  string `json:"rule"`
	Text  string `json:"text"`
	Basis string `json:"basis"`
}

type specWarning struct {
	Rule     string `json:"rule"`
	Severity string `json:"severity"`
	Reason   string `json:"reason"`
	Basis    string `json:"basis"`
	SetAside bool   `json:"set_aside"`
}

// Run answers.
func (q Spec) Run(o Out) error {
	jobs, err := readFile("SURVEY", q.Survey, intake.ReadSurvey)
	if err != nil {
		return err
	}
	products, err := readProducts("--products", q.Products)
	if err != nil {
		return err
	}
	sheets := make([]spec.Product, len(products))
	for i, p := range products {
		sheets[i] = p.Spec()
	}
	a := specAnswer{Seams: []specSeam{}, survey: q.Survey}
	for _, j := range jobs {
		for _, s := range j.Seams {
			a.Seams = append(a.Seams, planned(j, s, spec.PlanFor(s.Spec(j.Coats), sheets)))
		}
	}
	return o.put(a)
}

func planned(j intake.Job, s intake.Seam, p spec.Plan) specSeam {
	out := specSeam{
		RO: j.RO, Seam: s.ID, Place: s.Place, Side: s.Side,
		Class: string(p.Class), Product: p.ProductID, Profile: string(p.Profile), Technique: string(p.Technique),
		Nozzle: string(p.Nozzle.Kind), NozzleCutMM: p.Nozzle.CutMM, nozzle: p.Nozzle,
		Layers: []string{}, Reasons: []specReason{}, Warnings: []specWarning{}, Cautions: list(p.Cautions),
		NeedsDecision: p.NeedsDecision, Undecided: list(p.Undecided),
		WidthMM: s.WidthMM, HeightMM: s.HeightMM, LengthMM: s.LengthMM,
	}
	out.takes(p)
	for _, l := range p.Layers {
		out.Layers = append(out.Layers, string(l))
	}
	for _, r := range p.Reasons {
		out.Reasons = append(out.Reasons, specReason(r))
	}
	for _, w := range p.Warnings {
		out.Warnings = append(out.Warnings, specWarning{w.Rule, string(w.Severity), w.Reason, w.Basis, w.SetAside})
	}
	return out
}
