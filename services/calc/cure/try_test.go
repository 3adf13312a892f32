package cure

import (
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// TestTryIsInsertWithoutTakingIn: for any reading, late or not, Try says what
// Insert says and leaves the course as it was.
func TestTryIsInsertWithoutTakingIn(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c := must(NewCourse(bay()))
		at := rapid.SliceOfNDistinct(rapid.IntRange(0, 600), 1, 20, rapid.ID[int]).Draw(rt, "minutes")
		for _, m := range at {
			r := Reading{At: t0.Add(time.Duration(m) * time.Minute), C: rapid.Float64Range(0, 45).Draw(rt, "°C"), Joins: rapid.Bool().Draw(rt, "joins")}
			before := c.Readings()
			tried, err := c.Try(r)
			if err != nil {
				rt.Fatal(err)
			}
			if diff := cmp.Diff(before, c.Readings()); diff != "" {
				rt.Fatalf("trying changed the course: %s", diff)
			}
			told, err := c.Insert(r)
			if err != nil {
				rt.Fatal(err)
			}
			if diff := cmp.Diff(told, tried); diff != "" {
				rt.Fatalf("insert and try differ (-insert +try): %s", diff)
			}
			if _, err := c.Try(r); err == nil {
				rt.Fatal("a repeated instant is tried")
			}
		}
	})
}

// TestAReadingThatJoins: a further probe at another place of the room widens
// the set to the hull and is no jump; from then on the set grows and meets as
// ever. Worked by hand for a probe error of 0.5 K and a drift of 0.2 K a
// minute.
func TestAReadingThatJoins(t *testing.T) {
	z := bay()
	z.ProbeErrorC, z.DriftPerMin = 0.5, 0.2
	c := must(NewCourse(z))
	for _, r := range []Reading{{At: minute(0), C: 17}, {At: minute(1), C: 22, Joins: true}, {At: minute(2), C: 19.5, ExtraErrorC: 2.5}} {
		fs, err := c.Insert(r)
		if err != nil || len(fs) > 0 {
			t.Fatalf("%v: %v, %v", r, fs, err)
		}
	}
	v := c.Hindsight()
	for _, want := range []struct {
		min float64
		set Set
	}{
		{0, Set{16.5, 17.5}},
		{0.5, Set{16.4, 22.6}}, // either neighbour allows it
		{1, Set{16.3, 22.5}},   // the hull of what the first had become and the second
		{2, Set{16.5, 22.5}},   // grown to 16.1 and 22.7, met by 16.5 to 22.5
	} {
		got := v.Edges(minute(want.min))
		if math.Abs(got.Lo-want.set.Lo) > 1e-9 || math.Abs(got.Hi-want.set.Hi) > 1e-9 {
			t.Errorf("at %g min the set is %v, want %v", want.min, got, want.set)
		}
	}
	if !c.Readings()[1].Joins {
		t.Error("that it joins is forgotten")
	}
}
