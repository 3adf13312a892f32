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

// What is laid some time from now cures in air that is not known yet: the last
// reading, half a degree off, is no reason to move the whole shop's plan. Air
// that has grown warmer counts all the same.
func TestAWindowAheadDoesNotTrembleWithTheReadings(t *testing.T) {
	p := shop(t)
	p.do(`survey 2207/hem "door hem" L panel door-l vertical coated e-coat length 900 like before-tear-down medium-bodied round grey 6x3
plan 2207/hem mb-grey round direct-bead 6x3 13ml
load A of 2207 in booth-1 coat waterborne seams 2207/hem
probe bay-1 dies
`)
	read := func(c string) time.Duration {
		p.do("read bay-1 " + c + "\nwait 5m\n")
		f := p.floor()
		w := f.Windows(f.Load("A"), p.core.Now())
		if len(w) != 1 || !w[0].Waits {
			t.Fatalf("%s: %v", c, w)
		}
		return w[0].OpensIn
	}
	for range 12 {
		read("21")
	}
	least, most := 1000*time.Hour, time.Duration(0)
	for range 6 {
		for _, c := range []string{"20.5", "21.5"} {
			in := read(c)
			least, most = min(least, in), max(most, in)
			p.do("wait 8m\n") // the next reading is waited for
			f := p.floor()
			in = f.Windows(f.Load("A"), p.core.Now())[0].OpensIn
			least, most = min(least, in), max(most, in)
		}
	}
	if d := most - least; d > most/50 {
		t.Errorf("with readings half a degree off it opens in %s to %s", least, most)
	}
	for range 13 {
		read("26")
	}
	if warm := read("26"); warm > least*9/10 {
		t.Errorf("at 26 °C it opens in %s, at 21 °C in %s", warm, least)
	}
}
