package console

import (
	"fmt"
	"strings"

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
	Layers        []string      `json:"layers"`
	Reasons       []specReason  `json:"reasons"`
	Warnings      []specWarning `json:"warnings"`
	Cautions      []string      `json:"cautions"`
	NeedsDecision bool          `json:"needs_decision"`
	Undecided     []string      `json:"undecided"`

	nozzle spec.Nozzle
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
	a := specAnswer{Seams: []specSeam{}}
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
	}
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

func (a specAnswer) Lines() []string {
	var out []string
	for _, s := range a.Seams {
		out = append(out, fmt.Sprintf("%s/%s  %s", s.RO, s.Seam, strings.TrimSpace(s.Place+" "+s.Side)))
		out = append(out, "  lay       "+strings.Join(said(s.Product, s.Class, s.Profile, s.Technique), ", "))
		out = append(out, "  nozzle    "+strings.Join(said(s.nozzle.String()), ", "))
		if len(s.Layers) > 1 {
			out = append(out, "  layers    "+strings.Join(s.Layers, ", then "))
		}
		for _, u := range s.Undecided {
			out = append(out, "  decide    "+u)
		}
		for _, w := range s.Warnings {
			out = append(out, fmt.Sprintf("  %-9s %s (%s)", w.Severity, w.Reason, w.Basis))
		}
		for _, r := range s.Reasons {
			out = append(out, fmt.Sprintf("  because   %s (%s)", r.Text, r.Basis))
		}
		for _, c := range s.Cautions {
			out = append(out, "  caution   "+c)
		}
	}
	return out
}

// said drops what was not settled; nothing at all is said so.
func said(words ...string) []string {
	var out []string
	for _, w := range words {
		if w != "" {
			out = append(out, w)
		}
	}
	if out == nil {
		return []string{"not settled"}
	}
	return out
}
