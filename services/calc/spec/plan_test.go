package spec

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestPlans(t *testing.T) {
	given := map[string]bool{}
	for _, c := range planCases {
		t.Run(c.name, func(t *testing.T) {
			p := PlanFor(c.seam, shelf())
			got := []any{p.Class, p.ProductID, p.Profile, p.Technique, p.Nozzle.String(), p.Layers, p.NeedsDecision}
			want := []any{c.class, c.product, c.profile, c.technique, c.nozzle, c.layers, c.undecided}
			if d := cmp.Diff(want, got); d != "" {
				t.Errorf("(-want +got)\n%s\nopen: %q\nwarnings: %+v", d, p.Undecided, p.Warnings)
			}
			if p.NeedsDecision != (len(p.Undecided) > 0) {
				t.Errorf("needs a decision %v, open %q", p.NeedsDecision, p.Undecided)
			}
			for _, r := range p.Reasons {
				given[r.Rule] = true
			}
			for _, rule := range c.rules {
				if !slices.ContainsFunc(p.Reasons, func(r Reason) bool { return r.Rule == rule }) {
					t.Errorf("no reason %s in %+v", rule, p.Reasons)
				}
			}
			if c.seam.Procedure != nil && p.Procedure != c.seam.Procedure.Text {
				t.Errorf("the plan does not record the procedure: %q", p.Procedure)
			}
		})
	}
	for _, c := range choices() {
		if !given[c.ID] {
			t.Errorf("no case reaches the choice %s", c.ID)
		}
	}
}

func TestEveryCautionIsReached(t *testing.T) {
	said := map[string]bool{}
	for _, c := range planCases {
		for _, text := range PlanFor(c.seam, shelf()).Cautions {
			said[text] = true
		}
	}
	off := Seam{Place: "apron", Finish: Coated, Substrate: CuredTopcoat, Procedure: &Procedure{Text: "sheet", Technique: OffPanelBead}}
	for _, text := range PlanFor(off, shelf()).Cautions {
		said[text] = true
	}
	for _, c := range cautionTable() {
		if !said[c.Text] {
			t.Errorf("nothing reaches the caution %q", c.Text)
		}
	}
}

func TestDrainHolesNearBringTheirCaution(t *testing.T) {
	s := Seam{Place: "strut tower", Finish: Coated, DrainHoles: true}
	if c := PlanFor(s, shelf()).Cautions; !slices.Contains(c, "Keep the drain holes open.") {
		t.Errorf("got %q", c)
	}
}

func TestSettingAsideAChoiceLeavesItToTheNext(t *testing.T) {
	s := Seam{
		Place: "apron", Orientation: Vertical, Finish: Coated, Substrate: BareSteel, Reference: ref(HeavyBodied, Ripple),
		Procedure: &Procedure{Text: "sheet, page 2", Overrides: []string{"technique-ripple-bed", "ripple-bare-metal"}},
	}
	p := PlanFor(s, shelf())
	if p.Technique != DirectBead || p.NeedsDecision {
		t.Errorf("technique %s, open %q", p.Technique, p.Undecided)
	}
	if w := find(p.Warnings, "ripple-bare-metal"); w == nil || !w.SetAside || !strings.Contains(w.Reason, "procedure") {
		t.Errorf("the plan does not say what was set aside: %+v", p.Warnings)
	}
}

// drawSeam makes any seam of known or unknown words.
func drawSeam(t *rapid.T) Seam {
	places := []string{"roof ditch", "door hem", "rear panel to floor", "strut tower", "nowhere known", "sill"}
	s := Seam{
		Place:       rapid.SampledFrom(places).Draw(t, "place"),
		Orientation: rapid.SampledFrom(append(Orientations(), "")).Draw(t, "orientation"),
		Finish:      rapid.SampledFrom(Finishes()).Draw(t, "finish"),
		Substrate:   rapid.SampledFrom(append(Substrates(), "")).Draw(t, "substrate"),
		FirstCoat:   rapid.SampledFrom(append(Coats(), "")).Draw(t, "coat"),
		Reference: Reference{
			Source:   rapid.SampledFrom(ReferenceSources()).Draw(t, "source"),
			Class:    rapid.SampledFrom(append(Classes(), "")).Draw(t, "class"),
			Profile:  rapid.SampledFrom(append(Profiles(), "")).Draw(t, "profile"),
			Colour:   rapid.SampledFrom([]string{"", "white", "grey"}).Draw(t, "colour"),
			WidthMM:  rapid.Float64Range(0, 60).Draw(t, "width"),
			HeightMM: rapid.Float64Range(0, 8).Draw(t, "height"),
		},
	}
	if rapid.Bool().Draw(t, "measured") {
		s.Reference.Lab = &Lab{L: rapid.Float64Range(0, 100).Draw(t, "L"), A: rapid.Float64Range(-60, 60).Draw(t, "a"), B: rapid.Float64Range(-60, 60).Draw(t, "b")}
	}
	return s
}

// Whatever the seam, a settled plan is whole and safe, an open one says
// why, and neither depends on the order of the products.
func TestPlanProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeam(t)
		p := PlanFor(s, shelf())
		mixed := rapid.Permutation(shelf()).Draw(t, "products")
		if d := cmp.Diff(p, PlanFor(s, mixed)); d != "" {
			t.Fatalf("the order of products matters:\n%s", d)
		}
		if p.NeedsDecision != (len(p.Undecided) > 0) {
			t.Fatalf("needs a decision %v, open %q", p.NeedsDecision, p.Undecided)
		}
		if p.NeedsDecision {
			return
		}
		if p.Class == "" || p.ProductID == "" || p.Profile == "" || p.Technique == "" || p.Nozzle.Kind == "" || len(p.Layers) == 0 {
			t.Fatalf("settled but not whole: %+v", p)
		}
		for _, w := range p.Warnings {
			if w.Severity == Stop {
				t.Fatalf("settled against a stop: %+v", w)
			}
		}
		if p.Class == SelfLevelling && (s.Orientation != Level || (s.Substrate != EpoxyPrimer && s.Substrate != DTMUrethanePrimer)) {
			t.Fatalf("self-levelling on %s, %s", s.Substrate, s.Orientation)
		}
	})
}
