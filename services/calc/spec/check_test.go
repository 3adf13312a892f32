package spec

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// good is a bead with nothing to say about it: heavy-bodied, on e-coat,
// round like the factory's. The cases change one thing each.
func good() Application {
	return Application{
		Product: Product{
			ID: "hb-white", Class: HeavyBodied, Colour: "white", Lab: &Lab{L: 94},
			Substrates: []Substrate{BareSteel, ECoat, EpoxyPrimer, SelfEtchPrimer, WeldThroughPrimer, CuredTopcoat},
		},
		Profile: Round, Technique: DirectBead, Nozzle: RoundTip, Substrate: ECoat, Orientation: Vertical,
		Finish: Coated, FirstCoat: PrimerSurfacer, WidthMM: 8,
		Reference: Reference{Source: BeforeTearDown, Class: HeavyBodied, Profile: Round, Colour: "white", Lab: &Lab{L: 94}},
		Planned:   &Planned{Class: HeavyBodied, Profile: Round, Technique: DirectBead, ProductID: "hb-white", Colour: "white"},
	}
}

// levelled is a faultless self-levelling bead.
func levelled() Application {
	a := good()
	a.Product = Product{ID: "sl-grey", Class: SelfLevelling, Build: StandardBuild, Colour: "grey", Substrates: []Substrate{EpoxyPrimer, DTMUrethanePrimer}}
	a.Profile, a.Substrate, a.Orientation = Levelled, EpoxyPrimer, Level
	a.Reference.Class, a.Reference.Profile, a.Planned = SelfLevelling, Levelled, nil
	return a
}

func num(x float64) *float64 { return &x }

// ruleCases reach each rule of Check from a faultless bead by one change.
// Basis of the cases: the starting set of rules, each with its own basis.
var ruleCases = []struct {
	rule     string
	severity Severity
	from     func() Application
	change   func(*Application)
}{
	{"sl-bare-metal", Stop, levelled, func(a *Application) { a.Substrate = BareSteel }},
	{"sl-bare-metal", Stop, levelled, func(a *Application) { a.Substrate = ZincCoated }},
	{"sl-self-etch", Stop, levelled, func(a *Application) { a.Substrate = SelfEtchPrimer }},
	{"sl-other-substrate", Query, levelled, func(a *Application) { a.Substrate = ECoat }},
	{"sl-not-level", Stop, levelled, func(a *Application) { a.Orientation = Sloped }},
	{"sl-not-level", Stop, levelled, func(a *Application) { a.Orientation = Overhead }},
	{"orientation-unknown", Query, levelled, func(a *Application) { a.Orientation = "" }},
	{"sl-holds-no-shape", Query, levelled, func(a *Application) { a.Profile = Round }},
	{"levelled-needs-sl", Query, good, func(a *Application) { a.Profile = Levelled }},
	{"ripple-bare-metal", Stop, good, func(a *Application) { a.Profile, a.Substrate = Ripple, BareSteel }},
	{"brushed-needs-heavy", Query, good, func(a *Application) { a.Profile, a.Product.Class = Brushed, MediumBodied }},
	{"exposed-needs-heavy", Query, good, func(a *Application) { a.Finish, a.Product.Class = Exposed, MediumBodied }},
	{"ribbon-width", Note, good, func(a *Application) { a.Profile, a.Nozzle, a.WidthMM = Ribbon, Spreader, 38.2 }},
	{"ribbon-width", Note, good, func(a *Application) { a.Profile, a.Nozzle, a.WidthMM = Ribbon, Spreader, 12.6 }},
	{"step-nozzle", Note, good, func(a *Application) { a.Profile = Step }},
	{"ribbon-nozzle", Note, good, func(a *Application) { a.Profile = Ribbon }},
	{"substrate-unknown", Query, good, func(a *Application) { a.Substrate = "" }},
	{"substrate-unknown", Query, good, func(a *Application) { a.Substrate = SubstrateUnknown }},
	{"substrate-not-on-sheet", Query, good, func(a *Application) { a.Substrate = BareAluminium }},
	{"self-etch-under-sealer", Query, good, func(a *Application) { a.Substrate = SelfEtchPrimer }},
	{"weld-through-under-sealer", Query, good, func(a *Application) { a.Substrate = WeldThroughPrimer }},
	{"topcoat-scuff", Note, good, func(a *Application) { a.Substrate = CuredTopcoat }},
	{"bare-metal-exposed", Query, good, func(a *Application) { a.Finish, a.Substrate = Exposed, BareSteel }},
	{"bare-metal-coated", Note, good, func(a *Application) { a.Substrate = BareSteel }},
	{"waterborne-waits", Note, good, func(a *Application) { a.FirstCoat = Waterborne }},
	{"near-dew-point", Query, good, func(a *Application) { a.MarginK = num(2.9) }},
	{"humid-air", Query, good, func(a *Application) { a.RHPercent = num(86) }},
	{"colour-exposed", Query, good, func(a *Application) { a.Finish, a.Reference.Lab = Exposed, &Lab{L: 60} }},
	{"colour-exposed-unknown", Query, good, func(a *Application) { a.Finish, a.Reference.Lab, a.Reference.Colour = Exposed, nil, "grey" }},
	{"colour-not-planned", Query, good, func(a *Application) { a.Finish, a.Planned.Colour = Exposed, "black" }},
	{"colour-under-paint", Note, good, func(a *Application) { a.Planned.Colour = "black" }},
	{"colour-strong", Note, good, func(a *Application) { a.Product.Lab = &Lab{L: 50, A: 60, B: 40} }},
	{"no-reference", Note, good, func(a *Application) { a.Reference.Source = NoReference }},
	{"no-reference-exposed", Query, good, func(a *Application) { a.Finish, a.Reference.Source = Exposed, NoReference }},
	{"class-not-reference", Query, good, func(a *Application) { a.Reference.Class = MediumBodied }},
	{"profile-not-reference", Query, good, func(a *Application) { a.Reference.Profile = Fillet }},
	{"class-not-planned", Query, good, func(a *Application) { a.Planned.Class = MediumBodied }},
	{"profile-not-planned", Query, good, func(a *Application) { a.Planned.Profile = Fillet }},
	{"bed-missing", Query, good, func(a *Application) { a.Planned.Technique = WetBedThenBead }},
	{"technique-not-planned", Note, good, func(a *Application) { a.Technique = TapeEdge }},
	{"product-not-planned", Note, good, func(a *Application) { a.Planned.ProductID = "hb-grey" }},
}

func find(ws []Warning, rule string) *Warning {
	for i := range ws {
		if ws[i].Rule == rule {
			return &ws[i]
		}
	}
	return nil
}

func TestFaultlessBeadsHaveNoWarnings(t *testing.T) {
	for _, a := range []Application{good(), levelled()} {
		if ws := Check(a); ws == nil || len(ws) > 0 {
			t.Errorf("%s: %+v, want an empty list", a.Product.ID, ws)
		}
	}
}

func TestEveryRuleIsReachedAndCanBeSetAside(t *testing.T) {
	reached := map[string]bool{}
	for _, c := range ruleCases {
		a := c.from()
		c.change(&a)
		w := find(Check(a), c.rule)
		if w == nil {
			t.Errorf("%s: not raised, got %+v", c.rule, Check(a))
			continue
		}
		if w.Severity != c.severity || w.SetAside {
			t.Errorf("%s: %+v, want severity %s", c.rule, w, c.severity)
		}
		reached[c.rule] = true
		a.Procedure = &Procedure{Text: "paper 12, page 3", Overrides: []string{c.rule}}
		if w := find(Check(a), c.rule); w == nil || w.Severity != Note || !w.SetAside {
			t.Errorf("%s: set aside it is %+v, want a note that says so", c.rule, w)
		}
	}
	for _, r := range Rules() {
		if !reached[r.ID] {
			t.Errorf("no case reaches the rule %s", r.ID)
		}
	}
}

// At its limit a rule is silent: the limits themselves are allowed.
func TestRulesAreSilentAtTheirLimit(t *testing.T) {
	for rule, change := range map[string]func(*Application){
		"ribbon-width":   func(a *Application) { a.Profile, a.Nozzle, a.WidthMM = Ribbon, Spreader, MinRibbonMM },
		"ribbon-nozzle":  func(a *Application) { a.Profile, a.Nozzle, a.WidthMM = Ribbon, Spreader, MaxRibbonMM },
		"near-dew-point": func(a *Application) { a.MarginK = num(3) },
		"humid-air":      func(a *Application) { a.RHPercent = num(85) },
		"colour-exposed": func(a *Application) {
			a.Finish, a.Reference.Lab = Exposed, &Lab{L: 60}
			a.ColourLimit = difference(*a.Reference.Lab, *a.Product.Lab)
		},
		"colour-strong": func(a *Application) { a.Product.Lab = &Lab{L: 50, A: 6, B: 8} },
	} {
		a := good()
		change(&a)
		if w := find(Check(a), rule); w != nil {
			t.Errorf("%s: %+v at its limit", rule, w)
		}
	}
}

func TestRulesAreWellFormed(t *testing.T) {
	seen := map[string]bool{}
	check := func(id, reason, basis string) {
		if seen[id] {
			t.Errorf("%s stands twice", id)
		}
		seen[id] = true
		if strings.Trim(id, "abcdefghijklmnopqrstuvwxyz-") != "" {
			t.Errorf("%s is not kebab-case", id)
		}
		if basis == "" || !strings.HasSuffix(reason, ".") || strings.Count(reason, ". ") > 0 {
			t.Errorf("%s: want one sentence and a basis, got %q, %q", id, reason, basis)
		}
	}
	for _, e := range RuleBook() {
		check(e.ID, e.Reason, e.Basis)
		if e.Aspect == "" {
			t.Errorf("%s: it is about nothing", e.ID)
		}
	}
	for _, r := range Rules() {
		if r.Severity.Rank() == 0 || r.when == nil {
			t.Errorf("%s: severity or condition is missing", r.ID)
		}
	}
	for _, c := range cautionTable() {
		if c.Basis == "" || !strings.HasSuffix(c.Text, ".") {
			t.Errorf("caution %q has no basis or is no sentence", c.Text)
		}
	}
	for id := range settles {
		if !seen[id] && id != "override-unknown" {
			t.Errorf("%s settles plans but is no rule", id)
		}
	}
}

func TestMistypedOverrideIsAsked(t *testing.T) {
	a := good()
	a.Procedure = &Procedure{Text: "paper 12", Overrides: []string{"sl-bare-metall"}}
	if w := find(Check(a), "override-unknown"); w == nil || w.Severity != Query {
		t.Errorf("got %+v, want a query", Check(a))
	}
}

func TestPrescribedClassIsSetAsideByItself(t *testing.T) {
	a := good()
	a.Reference.Class = MediumBodied
	a.Procedure = &Procedure{Text: "paper 12", Class: HeavyBodied}
	if w := find(Check(a), "class-not-reference"); w == nil || !w.SetAside || w.Severity != Note {
		t.Errorf("got %+v, want a note", w)
	}
	a.Procedure.Class = SelfLevelling // not what was laid
	if w := find(Check(a), "class-not-reference"); w == nil || w.SetAside {
		t.Errorf("got %+v, want the query itself", w)
	}
}

func TestWetBedLiftsTheRippleStop(t *testing.T) {
	for _, k := range Techniques() {
		a := good()
		a.Profile, a.Substrate, a.Technique = Ripple, BareSteel, k
		if got := find(Check(a), "ripple-bare-metal") != nil; got == k.WetBed() {
			t.Errorf("%s: stop raised %v", k, got)
		}
	}
}

// A self-levelling sealer with nothing against it lies on epoxy or
// direct-to-metal primer on a level joint, whatever else is so (common
// practice).
func TestSelfLevellingIsHeldUnlessPrimedAndLevel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := Application{
			Product:     Product{ID: "sl", Class: SelfLevelling},
			Profile:     rapid.SampledFrom(Profiles()).Draw(t, "profile"),
			Technique:   rapid.SampledFrom(Techniques()).Draw(t, "technique"),
			Substrate:   rapid.SampledFrom(Substrates()).Draw(t, "substrate"),
			Orientation: rapid.SampledFrom(append(Orientations(), "")).Draw(t, "orientation"),
			Finish:      rapid.SampledFrom(Finishes()).Draw(t, "finish"),
		}
		worst := 0
		for _, w := range Check(a) {
			if strings.HasPrefix(w.Rule, "sl-") || strings.HasSuffix(w.Rule, "unknown") {
				worst = max(worst, w.Severity.Rank())
			}
		}
		primed := a.Substrate == EpoxyPrimer || a.Substrate == DTMUrethanePrimer
		if fine := primed && a.Orientation == Level && a.Profile == Levelled && a.Finish == Coated; fine != (worst == 0) && a.Finish == Coated {
			t.Fatalf("%+v: worst %d", a, worst)
		}
		if a.Substrate.BareMetal() && worst != Stop.Rank() {
			t.Fatalf("%+v: bare metal without a stop", a)
		}
	})
}
