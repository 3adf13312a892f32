package materials

import (
	"testing"
	"time"

	"seamwright/services/calc/stock"
)

// A cartridge a week is a cartridge a week, into however many small volumes it
// went: adding them up must not make it a slow mover.
func TestOneAWeekIsNotSlow(t *testing.T) {
	const each = 50.0
	to := time.Date(2026, 3, 16, 8, 0, 0, 0, time.UTC)
	var uses []stock.Use
	less := false
	for n := 1; n <= 400; n++ {
		uses = uses[:0]
		sum := 0.0
		for i := range 2 * n {
			uses = append(uses, stock.Use{At: to.Add(-time.Duration(i%2)*week - time.Hour), Amount: each / float64(n)})
			sum += each / float64(n)
		}
		less = less || sum < 2*each
		d, err := stock.Demanded(uses, to.Add(-2*week), to, week)
		if err != nil {
			t.Fatal(err)
		}
		in, err := d.In(each)
		if err != nil {
			t.Fatal(err)
		}
		if slow(in.Mean) {
			t.Errorf("%d times %g ml in two weeks are a slow mover: %.17g cartridges a week", 2*n, each/float64(n), in.Mean)
		}
	}
	if !less {
		t.Error("none of the sums fell short of it: they show nothing")
	}
	if !slow(0.999) {
		t.Error("0.999 a week is no slow mover")
	}
}
