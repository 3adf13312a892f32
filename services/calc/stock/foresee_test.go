package stock

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"seamwright/services/calc/quantity"
	"seamwright/services/fault"
)

const dayLong = 24 * time.Hour

// The dumb twin: an hour at a time, use the cartridge that lapses first.
func lostByTheHour(stock []Holding, mlPerDay float64, life time.Duration, at time.Time) float64 {
	type pack struct {
		left   float64
		by     time.Time
		opened bool
	}
	var packs []*pack
	for _, h := range stock {
		for range h.Cartridges {
			p := &pack{h.Each.ML(), h.Expires, h.CartridgeID != ""}
			if p.opened && life > 0 && !h.Opened.IsZero() && (p.by.IsZero() || h.Opened.Add(life).Before(p.by)) {
				p.by = h.Opened.Add(life)
			}
			packs = append(packs, p)
		}
	}
	lost := 0.0
	var cur *pack
	for now := at; now.Before(at.AddDate(8, 0, 0)); now = now.Add(time.Hour) {
		for _, p := range packs {
			if p.left > 0 && !p.by.IsZero() && !p.by.After(now) {
				lost, p.left = lost+p.left, 0
			}
		}
		for need := mlPerDay / 24; need > 1e-12; {
			if cur == nil || cur.left <= 0 {
				cur = nil
				for _, p := range packs {
					if p.left <= 0 {
						continue
					}
					if cur == nil || compareDays(p.by, cur.by) < 0 || compareDays(p.by, cur.by) == 0 && p.opened && !cur.opened {
						cur = p
					}
				}
				if cur == nil {
					return lost
				}
				if !cur.opened && life > 0 {
					if end := now.Add(life); cur.by.IsZero() || end.Before(cur.by) {
						cur.by = end
					}
				}
				cur.opened = true
			}
			n := min(need, cur.left)
			need, cur.left = need-n, cur.left-n
			if cur.left < 1e-9 {
				cur.left = 0
			}
		}
	}
	return lost
}

func TestForeseeAgreesWithHourByHour(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var stock []Holding
		days := func(what string) time.Time {
			n := rapid.IntRange(-5, 400).Draw(t, what)
			if n > 380 {
				return time.Time{}
			}
			return monday.AddDate(0, 0, n)
		}
		n, total := rapid.IntRange(0, 4).Draw(t, "holdings"), 0.0
		for i := range n {
			h := Holding{LotID: fmt.Sprint("L", i), Cartridges: 1, Each: quantity.Volume(rapid.IntRange(10, 200).Draw(t, "ml")), Expires: days("expires")}
			if rapid.Bool().Draw(t, "is opened") {
				h.CartridgeID, h.Opened = fmt.Sprint("C", i), monday.AddDate(0, 0, -rapid.IntRange(0, 40).Draw(t, "opened"))
			} else {
				h.Cartridges = rapid.IntRange(0, 4).Draw(t, "cartridges")
			}
			total += float64(h.Cartridges) * h.Each.ML()
			stock = append(stock, h)
		}
		perDay := rapid.Float64Range(0.5, 30).Draw(t, "use")
		life := time.Duration(rapid.IntRange(0, 90).Draw(t, "life")) * dayLong
		out := must(Foresee(stock, perDay, life, monday))
		// Each opening and each lapse can be an hour's use off.
		if want, slack := lostByTheHour(stock, perDay, life, monday), perDay/24*float64(2*len(stock)*4+2); math.Abs(out.Lost.ML()-want) > slack {
			t.Fatalf("lost %v, by the hour %g within %g", out.Lost, want, slack)
		}
		sum := quantity.Volume(0)
		for _, l := range out.Lapses {
			sum += l.Volume
			if l.Volume <= 0 || l.At.IsZero() || l.Why == "" || l.Cartridges < 1 {
				t.Fatalf("%+v", l)
			}
		}
		if math.Abs((sum-out.Lost).ML()) > 1e-6 || sum.ML() > total+1e-6 || !slices.IsSortedFunc(out.Lapses, func(a, b Lapse) int { return a.At.Compare(b.At) }) {
			t.Fatalf("%+v of %g", out, total)
		}
	})
}

func TestForeseeByHand(t *testing.T) {
	lot := func(n, expires int) Holding {
		return Holding{LotID: "L1", Cartridges: n, Each: 200, Expires: monday.AddDate(0, 0, expires)}
	}
	for what, c := range map[string]struct {
		stock  []Holding
		perDay float64
		life   int
		want   string // when, how much, of how many
		out    int    // days until it runs out
	}{
		"used in time": {[]Holding{lot(2, 365)}, 10, 90, "", 40},
		// 90 days of 1 ml each, twice; 110 ml left each time.
		"opened life": {[]Holding{lot(2, 365)}, 1, 90, "90:110/1 180:110/1", 180},
		// The first lasts 20 days, the second expires 10 days into it.
		"expires in use": {[]Holding{lot(2, 30)}, 10, 90, "30:100/1", 30},
		// Two of three never come to their turn.
		"expires unopened": {[]Holding{lot(3, 15)}, 10, 90, "15:50/1 15:400/2", 15},
		"nothing used":     {[]Holding{lot(3, 15)}, 0, 90, "15:600/3", 15},
		"opened one first": {[]Holding{lot(1, 365), {LotID: "L1", CartridgeID: "C1", Cartridges: 1, Each: 50, Expires: monday.AddDate(0, 0, 365), Opened: monday.AddDate(0, 0, -80)}}, 10, 90, "", 25},
		"its life ends":    {[]Holding{{LotID: "L1", CartridgeID: "C1", Cartridges: 1, Each: 150, Opened: monday.AddDate(0, 0, -80)}}, 10, 90, "10:50/1", 10},
		"expired today":    {[]Holding{lot(1, 0)}, 10, 90, "0:200/1", 0},
	} {
		out := must(Foresee(c.stock, c.perDay, time.Duration(c.life)*dayLong, monday))
		var got []string
		for _, l := range out.Lapses {
			got = append(got, fmt.Sprintf("%g:%g/%d", l.At.Sub(monday).Hours()/24, math.Round(l.Volume.ML()*1000)/1000, l.Cartridges))
		}
		if text := strings.Join(got, " "); text != c.want || math.Abs(out.RunsOut.Sub(monday).Hours()/24-float64(c.out)) > 1e-6 {
			t.Errorf("%s: %q until %v, want %q until day %d", what, text, out.RunsOut, c.want, c.out)
		}
	}
	if out := must(Foresee(nil, 1, 0, monday)); out.Lapses == nil || !out.RunsOut.IsZero() {
		t.Errorf("no stock: %+v", out)
	}
	if out := must(Foresee([]Holding{{LotID: "L", Cartridges: 1, Each: 5}}, 0, 0, monday)); len(out.Lapses) > 0 || !out.RunsOut.IsZero() {
		t.Errorf("keeps and is not used: %+v", out)
	}
}

func TestTakeStopsAtWhatThereIs(t *testing.T) {
	lots := []Lot{{ID: "A", Cartridges: 2}, {ID: "B", Cartridges: 1, Expires: monday}, {ID: "C", Cartridges: 1, Recalled: true}, {ID: "D", Cartridges: 1, Expires: monday.Add(1)}}
	taken, short, err := Take(lots, 5, monday)
	if err != nil || short != 2 || !slices.Equal(taken, []Taken{{"D", 1}, {"A", 2}}) {
		t.Errorf("%v, short %d, %v: want D then A, two short; B expired, C recalled", taken, short, err)
	}
	for _, bad := range []func() error{
		func() error { _, _, err := Take(lots, -1, monday); return err },
		func() error { _, _, err := Take([]Lot{{Cartridges: -1}}, 1, monday); return err },
		func() error { _, err := Foresee([]Holding{{Each: -1}}, 1, 0, monday); return err },
		func() error {
			_, err := Foresee([]Holding{{Each: quantity.Volume(math.NaN())}}, 1, 0, monday)
			return err
		},
		func() error { _, err := Foresee([]Holding{{Cartridges: maxItems + 1}}, 1, 0, monday); return err },
		func() error {
			_, err := Foresee([]Holding{{CartridgeID: "C", Cartridges: 2}}, 1, 0, monday)
			return err
		},
		func() error { _, err := Foresee(nil, math.NaN(), 0, monday); return err },
		func() error { _, err := Foresee(nil, 1, -1, monday); return err },
		func() error { _, err := Foresee(nil, 1, 0, time.Time{}); return err },
	} {
		if err := bad(); err == nil || fault.KindOf(err) != fault.Invalid {
			t.Errorf("%v", err)
		}
	}
}
