package spec

import "fmt"

// Application is a bead as it was really laid, or as it would be. Zero
// fields are unknown; a rule that needs to know one says nothing, unless
// not knowing it is what it is about.
type Application struct {
	Product     Product // what was laid; only its Class is needed
	Profile     Profile
	Technique   Technique
	Nozzle      NozzleKind
	Substrate   Substrate
	Orientation Orientation
	Finish      Finish
	FirstCoat   Coat
	WidthMM     float64
	Reference   Reference
	Planned     *Planned // nil: there was no plan to differ from
	MarginK     *float64 // surface above dew point when laid, K
	RHPercent   *float64 // relative humidity when laid
	Procedure   *Procedure
	ColourLimit float64 // CIEDE2000; 0: DefaultColourLimit
}

// Planned is what the plan said. Zero fields were not settled.
type Planned struct {
	Class     Class
	Profile   Profile
	Technique Technique
	ProductID string
	Colour    string
}

// limit is the colour difference that an exposed bead may have.
func (a Application) limit() float64 {
	if a.ColourLimit > 0 {
		return a.ColourLimit
	}
	return DefaultColourLimit
}

// bodied reports whether a medium- or heavy-bodied sealer was laid.
func (a Application) bodied() bool {
	return a.Product.Class == MediumBodied || a.Product.Class == HeavyBodied
}

// Rule is one rule about a bead. Detail, if any, gives the values.
type Rule struct {
	ID       string
	Aspect   Aspect
	Severity Severity
	Reason   string // one sentence
	Basis    string // published source, or CommonPractice

	when   func(Application) bool
	detail func(Application) string
}

// Rules lists the rules that Check applies, in order.
func Rules() []Rule {
	out := levellingRules()
	out = append(out, shapeRules()...)
	out = append(out, substrateRules()...)
	out = append(out, surfaceRules()...)
	out = append(out, colourRules()...)
	return append(out, planRules()...)
}

// Check says what is wrong with a bead, or worth a word. The result is
// never nil and in the order of Rules. A rule that the recorded procedure
// names, or whose aspect the procedure itself prescribed, comes back as a
// note that says so.
func Check(a Application) []Warning {
	out := []Warning{}
	for _, r := range Rules() {
		if !r.when(a) {
			continue
		}
		w := Warning{Rule: r.ID, Severity: r.Severity, Reason: r.Reason, Basis: r.Basis}
		if r.detail != nil {
			w.Reason += " " + r.detail(a)
		}
		if a.Procedure.SetsAside(r.ID) || prescribes(a, r.Aspect) {
			w.Severity, w.SetAside = Note, true
			w.Reason = "Set aside by the recorded procedure: " + w.Reason
		}
		out = append(out, w)
	}
	return append(out, unknownOverrides(a.Procedure)...)
}

// prescribes reports whether the procedure itself asks for what was laid.
func prescribes(a Application, about Aspect) bool {
	p := a.Procedure
	if p == nil {
		return false
	}
	switch about {
	case AboutClass:
		return p.Class != "" && p.Class == a.Product.Class
	case AboutProfile:
		return p.Profile != "" && p.Profile == a.Profile
	case AboutTechnique:
		return p.Technique != "" && p.Technique == a.Technique
	case AboutProduct:
		return p.ProductID != "" && p.ProductID == a.Product.ID
	}
	return false
}

// unknownOverrides warns of a procedure that sets aside what is no rule: a
// mistyped name must not pass for an override.
func unknownOverrides(p *Procedure) []Warning {
	if p == nil {
		return nil
	}
	known := map[string]bool{}
	for _, e := range RuleBook() {
		known[e.ID] = true
	}
	var out []Warning
	for _, id := range p.Overrides {
		if !known[id] {
			out = append(out, Warning{
				Rule: "override-unknown", Severity: Query, Basis: theProcedure,
				Reason: fmt.Sprintf("The recorded procedure sets aside %q, which is no rule: record it again.", id),
			})
		}
	}
	return out
}
