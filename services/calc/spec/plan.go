package spec

import (
	"fmt"
)

// Common practice, no source: the basis of a rule that the trade keeps but
// no opened text states.
const CommonPractice = "common practice"

// Aspect is what a rule is about.
type Aspect string

// The aspects of what goes on a seam.
const (
	AboutClass       Aspect = "class"
	AboutProfile     Aspect = "profile"
	AboutTechnique   Aspect = "technique"
	AboutNozzle      Aspect = "nozzle"
	AboutProduct     Aspect = "product"
	AboutColour      Aspect = "colour"
	AboutSubstrate   Aspect = "substrate"
	AboutOrientation Aspect = "orientation"
	AboutSurface     Aspect = "surface"
	AboutReference   Aspect = "reference"
	AboutProcedure   Aspect = "procedure"
)

// Reason is why the plan says what it says.
type Reason struct {
	Rule  string
	Text  string
	Basis string
}

// Warning is something wrong, or worth a word, about a bead. A rule that
// the recorded procedure sets aside still stands here, as a note.
type Warning struct {
	Rule     string
	Severity Severity
	Reason   string // one sentence, then the values if there are any
	Basis    string
	SetAside bool
}

// Nozzle is the tip and the width that it is cut to, 0 when unknown.
type Nozzle struct {
	Kind  NozzleKind
	CutMM float64
}

// Plan is what goes on a seam. Zero fields are not settled; Undecided says
// in words what a person must settle. Lists are never nil.
type Plan struct {
	Class         Class
	ProductID     string
	Profile       Profile
	Technique     Technique
	Nozzle        Nozzle
	Layers        []Layer
	Cautions      []string
	Reasons       []Reason
	Warnings      []Warning
	NeedsDecision bool
	Undecided     []string
	Procedure     string // the recorded procedure that overrides rules, in the shop's words
}

// draft is a plan in the making.
type draft struct {
	seam      Seam
	class     Class
	profile   Profile
	technique Technique
}

// PlanFor chooses what goes on a seam from its place, substrate, finish and
// reference, and one of the products. It is a function of its arguments
// alone: the order of the products does not matter. A recorded procedure
// decides what it states.
func PlanFor(seam Seam, products []Product) Plan {
	p := Plan{
		Layers: []Layer{}, Cautions: []string{}, Reasons: []Reason{}, Warnings: []Warning{},
		Undecided: []string{},
	}
	d := draft{seam: seam}
	if seam.Procedure != nil {
		p.Procedure = seam.Procedure.Text
	}
	for _, c := range choices() {
		p.take(c, &d)
	}
	p.Class, p.Profile, p.Technique = d.class, d.profile, d.technique
	p.Layers = layers(d.technique, p.Layers)
	product := p.choose(d, products)
	for what, unset := range map[string]bool{"class of sealer": p.Class == "", "profile": p.Profile == ""} {
		if unset {
			p.undecided(fmt.Sprintf("%s: the survey does not say and no rule settles it", what))
		}
	}
	p.Warnings = Check(planned(d, p.Nozzle, product))
	for _, w := range p.Warnings {
		if w.Severity == Stop || (w.Severity == Query && settles[w.Rule]) {
			p.undecided(w.Reason)
		}
	}
	p.Cautions = cautions(d)
	sortUndecided(p.Undecided)
	return p
}

// settles names the queries that leave a plan open until a person answers:
// what they ask must be known before material is opened.
var settles = map[string]bool{
	"substrate-unknown": true, "colour-exposed": true, "colour-exposed-unknown": true,
	"orientation-unknown": true, "substrate-not-on-sheet": true, "sl-other-substrate": true,
	"override-unknown": true, "no-reference-exposed": true,
}

// take lets one choice rule decide its aspect if that is still open.
func (p *Plan) take(c choice, d *draft) {
	open := map[Aspect]bool{
		AboutClass: d.class == "", AboutProfile: d.profile == "",
		AboutTechnique: d.technique == "", AboutNozzle: p.Nozzle.Kind == "",
	}
	if !open[c.Aspect] || d.seam.Procedure.SetsAside(c.ID) || !c.When(*d) {
		return
	}
	pick := c.Pick(*d)
	switch c.Aspect {
	case AboutClass:
		d.class = Class(pick)
	case AboutProfile:
		d.profile = Profile(pick)
	case AboutTechnique:
		d.technique = Technique(pick)
	case AboutNozzle:
		p.Nozzle = Nozzle{Kind: NozzleKind(pick), CutMM: d.seam.Reference.WidthMM}
	}
	p.because(c.ID, c.Reason, c.Basis)
}

func (p *Plan) because(rule, text, basis string) {
	p.Reasons = append(p.Reasons, Reason{Rule: rule, Text: text, Basis: basis})
}

func (p *Plan) undecided(text string) {
	p.NeedsDecision = true
	p.Undecided = append(p.Undecided, text)
}

// layers says what is laid, in order.
func layers(t Technique, none []Layer) []Layer {
	switch {
	case t == "":
		return none
	case t.WetBed():
		return []Layer{Bed, Bead}
	}
	return []Layer{Bead}
}

// planned is the bead as it would be laid.
func planned(d draft, n Nozzle, product Product) Application {
	return Application{
		Product: product, Profile: d.profile, Technique: d.technique, Nozzle: n.Kind,
		Substrate: d.seam.Substrate, Orientation: d.seam.Orientation, Finish: d.seam.Finish,
		FirstCoat: d.seam.FirstCoat, WidthMM: d.seam.Reference.WidthMM, Reference: d.seam.Reference,
		Procedure: d.seam.Procedure, ColourLimit: d.seam.ColourLimit,
	}
}
