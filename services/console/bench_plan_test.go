package console_test

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"seamwright/services/console"
)

// benchPlan runs a few instances and gives the answer both ways.
func benchPlan(t *testing.T, q console.BenchPlan) (benchTold, string) {
	t.Helper()
	q.Dir, q.Seed = "../../testdata/benchmarks", "1"
	var js, text bytes.Buffer
	if err := q.Run(console.Out{W: &js, JSON: true}); err != nil {
		t.Fatal(err)
	}
	if err := q.Run(console.Out{W: &text}); err != nil {
		t.Fatal(err)
	}
	var a benchTold
	if err := json.Unmarshal(js.Bytes(), &a); err != nil || len(a.Sets) != 1 {
		t.Fatalf("%v: %s", err, js.String())
	}
	return a, text.String()
}

type benchTold struct {
	Sets []struct {
		Instances   int
		AtBest      int      `json:"at_best"`
		Gap         *float64 `json:"gap_percent"`
		FirstCome   *float64 `json:"first_come_gap_percent"`
		EarliestDue *float64 `json:"earliest_due_gap_percent"`
		Wrong       int
		Met         *bool
		NewBests    []any `json:"new_bests"`
	}
}

// TestBenchPlanTellsGaps takes a few instances of each kind of set: none is
// better than a proved optimum, the rules of thumb are worse.
func TestBenchPlanTellsGaps(t *testing.T) {
	for _, c := range []struct{ set, budget, every string }{
		{"wt40", "100ms", "40"}, {"wtsds", "50ms", "60"}, {"booth12", "1s", "8"}, {"replan40", "10ms", "10"},
	} {
		a, text := benchPlan(t, console.BenchPlan{Set: c.set, Budget: c.budget, Every: c.every, Wall: c.set == "wtsds"})
		s := a.Sets[0]
		if s.Instances < 1 || s.Gap == nil || s.FirstCome == nil || s.EarliestDue == nil || s.Met != nil || s.NewBests == nil {
			t.Fatalf("%s: %+v", c.set, s)
		}
		if *s.FirstCome < *s.Gap || *s.EarliestDue < *s.Gap {
			t.Errorf("%s: rules of thumb at %g and %g %%, the plan at %g", c.set, *s.FirstCome, *s.EarliestDue, *s.Gap)
		}
		if c.set == "wt40" && (*s.Gap < 0 || *s.Gap > 1) || c.set == "booth12" && (s.AtBest != s.Instances || *s.Gap != 0) {
			t.Errorf("%s: %+v", c.set, s)
		}
		if !strings.Contains(text, "\n"+c.set+" ") || !strings.Contains(text, "to reach") {
			t.Errorf("%s:\n%s", c.set, text)
		}
	}
}

// TestBenchPlanJudgesWholeSets judges only a set that was taken whole in the
// budget that it is to be reached in. The optima are those of the table that
// testdata/benchmarks/rcpsp-max/SOURCE.md names.
func TestBenchPlanJudgesWholeSets(t *testing.T) {
	a, text := benchPlan(t, console.BenchPlan{Set: "ubo10", Every: "1"})
	s := a.Sets[0]
	if s.Instances != 90 || s.AtBest != 90 || s.Wrong != 0 || s.Met == nil || !*s.Met || !strings.HasSuffix(strings.Split(text, "\n")[1], " met") {
		t.Errorf("%+v\n%s", s, text)
	}
	for _, q := range []console.BenchPlan{
		{Every: "0"}, {Every: "x"}, {Every: "1.5"}, {Every: "1", Budget: "0s"}, {Every: "1", Budget: "NaN"}, {Every: "1", Budget: "2h"}, {Every: "1", Set: "j99"},
	} {
		q.Dir, q.Seed = "../../testdata/benchmarks", "1"
		if err := q.Run(console.Out{W: &bytes.Buffer{}}); err == nil {
			t.Errorf("%+v is taken", q)
		}
	}
}
