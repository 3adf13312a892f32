package sim

import (
	"testing"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/calc/spec"
)

// The nozzle is the one that lays the profile: a step wants the guided nozzle,
// a ribbon the spreader cut to its width (common practice, no source).
func TestPeoplePlanTheNozzleThatTheRulesGive(t *testing.T) {
	for _, c := range []struct {
		place   string
		class   floorv1.SealerClass
		profile floorv1.Profile
		width   float64
		nozzle  string
		how     floorv1.Technique
	}{
		{"Door hem", mediumBodied, floorv1.Profile_PROFILE_STEP, 8, "guided step nozzle", floorv1.Technique_TECHNIQUE_DIRECT_BEAD},
		{"Sill joint", mediumBodied, floorv1.Profile_PROFILE_RIBBON, 18, "spreader cut at 18 mm", floorv1.Technique_TECHNIQUE_TAPE_EDGE},
		{"Rear panel to floor", heavyBodied, floorv1.Profile_PROFILE_RIBBON, 20, "spreader cut at 20 mm", floorv1.Technique_TECHNIQUE_DIRECT_BEAD},
		{"Cowl to bulkhead", heavyBodied, floorv1.Profile_PROFILE_ROUND, 8, "round tip cut at 8 mm", floorv1.Technique_TECHNIQUE_DIRECT_BEAD},
		{"Apron upper", heavyBodied, floorv1.Profile_PROFILE_BRUSHED, 10, "round tip cut at 10 mm", floorv1.Technique_TECHNIQUE_BRUSHED},
	} {
		m := &seam{job: &job{def: &jobsv1.JobOpened{Coats: []floorv1.Coat{floorv1.Coat_COAT_WATERBORNE}}}, def: &jobsv1.SeamSurveyed{
			Place: c.place, Finish: floorv1.Finish_FINISH_COATED, Substrate: eCoat, Orientation: vertical,
			Reference: &floorv1.Reference{
				Source: floorv1.ReferenceSource_REFERENCE_SOURCE_BEFORE_TEAR_DOWN, Class: c.class, Profile: c.profile, WidthMm: c.width, HeightMm: 1.5,
			},
		}}
		if got := spec.PlanFor(surveyed(m), nil).Nozzle.String(); got != c.nozzle {
			t.Errorf("%s: %q, want %q", c.place, got, c.nozzle)
		}
		if got := technique(m); got != c.how {
			t.Errorf("%s: %v, want %v", c.place, got, c.how)
		}
	}
}

// Words of the contract and of the rules are the same, there and back.
func TestWordsOfTheRulesAreTheContracts(t *testing.T) {
	for _, p := range spec.Profiles() {
		if got := term(valued[floorv1.Profile](string(p))); got != string(p) {
			t.Errorf("%q comes back as %q", p, got)
		}
	}
	for _, s := range spec.Techniques() {
		if got := term(valued[floorv1.Technique](string(s))); got != string(s) {
			t.Errorf("%q comes back as %q", s, got)
		}
	}
	if got := valued[floorv1.Profile]("wavy"); got != 0 {
		t.Errorf("an unknown word is %v", got)
	}
}
