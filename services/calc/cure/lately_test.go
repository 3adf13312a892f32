package cure

import (
	"testing"
	"time"
)

// The average air between readings, reckoned by hand: an edge of readings ten
// minutes apart goes out by 0.2 K a minute for five minutes and back again, by
// half a kelvin on average.
func TestTheAirLately(t *testing.T) {
	c := courseOf(t, bay(), [2]float64{0, 21}, [2]float64{10, 21}, [2]float64{20, 21}, [2]float64{30, 21})
	for _, m := range []float64{30, 36, 44} { // however long the next reading is waited for
		o, ok := c.View(minute(m)).Lately(minute(m), time.Hour)
		if !ok || !o.NominalKnown || !o.From.Equal(minute(m)) {
			t.Fatalf("%+v, %v", o, ok)
		}
		sameSet(t, "on average", o.Set, 20, 22)
		near(t, "nominal", o.NominalC, 21, 1e-9)
	}
	// 22 at minute 40 weighs by its time: its nominal is 21.5 over ten minutes of forty.
	if _, err := c.Append(Reading{At: minute(40), C: 22}); err != nil {
		t.Fatal(err)
	}
	o, _ := c.View(minute(41)).Lately(minute(41), time.Hour)
	near(t, "nominal", o.NominalC, (3*21+21.5)/4, 1e-9)
	if o, _ := c.View(minute(41)).Lately(minute(41), 10*time.Minute); o.NominalC != 21.5 {
		t.Errorf("over ten minutes %g, want 21.5", o.NominalC)
	}
	for what, v := range map[string]View{"before any reading": c.View(minute(-1)), "with one reading": c.View(minute(5))} {
		if o, ok := v.Lately(minute(5), time.Hour); ok {
			t.Errorf("%s: %+v", what, o)
		}
	}
	if o, ok := c.View(minute(200)).Lately(minute(200), time.Hour); ok {
		t.Errorf("hours after the last reading: %+v", o)
	}
}
