package floor_test

import (
	"testing"
	"time"
)

// A seam that nobody has planned yet has the window of what the rules suggest
// for it: who plans the booth must not have it laid before a weekend, for it
// would close on it.
func TestAnUnplannedSeamHasTheWindowOfWhatIsSuggested(t *testing.T) {
	const planned = "plan 2207/hem mb-grey round direct-bead 6x3 13ml"
	p := shop(t)
	p.do(`survey 2207/hem "door hem" L panel door-l vertical coated e-coat length 900 like before-tear-down medium-bodied round grey 6x3
` + loadA)
	ahead := func() (opens, closes time.Duration, known bool) {
		f := p.floor()
		w := f.Windows(f.Load("A"), p.core.Now())
		if len(w) != 1 {
			t.Fatalf("%d windows, want that of the hem", len(w))
		}
		return w[0].OpensIn, w[0].ClosesIn, w[0].Waits && w[0].Lasts
	}
	opens, closes, known := ahead()
	if !known {
		t.Fatal("the window of an unplanned seam is not known")
	}
	p.do(planned)
	opens2, closes2, known := ahead()
	if !known || opens != opens2 || closes != closes2 {
		t.Errorf("unplanned it opens in %s and closes in %s, planned with what is suggested in %s and %s", opens, closes, opens2, closes2)
	}
	if closes < time.Hour || closes > 72*time.Hour {
		t.Errorf("it closes in %s", closes)
	}
}
