package run

import (
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"seamwright/services/calc/bead"
	"seamwright/services/calc/cure"
	"seamwright/services/calc/quantity"
	"seamwright/services/calc/spec"
	"seamwright/services/fault"
)

var (
	round8 = spec.Nozzle{Kind: spec.RoundTip, CutMM: 8}
	round6 = spec.Nozzle{Kind: spec.RoundTip, CutMM: 6}
	flat25 = spec.Nozzle{Kind: spec.Spreader, CutMM: 25}
)

// oneBay is a bay with one product, an opened cartridge and a lot.
func oneBay(seams ...Seam) Problem {
	return Problem{
		Start: monday, Times: UsualTimes(), Seams: seams,
		Products: []Product{{ID: "grey", Gel: 8 * time.Minute, Tooling: 12 * time.Minute, OpenedLife: 90 * 24 * time.Hour, Losses: bead.Losses{PurgeML: 8, HoldUpML: 7}}},
		Lots:     []Lot{{ID: "L1", ProductID: "grey", Expires: monday.AddDate(1, 0, 0), Shelf: 3, Cartridge: 200}},
		Opened:   []Cartridge{{ID: "C1", LotID: "L1", ProductID: "grey", Left: 100, Expires: monday.AddDate(1, 0, 0), Opened: monday.AddDate(0, 0, -10), Equalised: true}},
	}
}

func grey(id, panel string, ml float64, tip spec.Nozzle) Seam {
	return Seam{ID: id, RO: "2207", Panel: panel, ProductID: "grey", Volume: quantity.Volume(ml), Laying: time.Minute, Tip: tip}
}

// told is a run in short: seam, cartridge and change of each step.
func told(r Run) string {
	var out []string
	for _, s := range r.Steps {
		text := s.SeamID + " " + s.Pack.String()
		if s.Change != "" {
			text += " " + string(s.Change)
		}
		out = append(out, text)
	}
	return strings.Join(out, ", ")
}

func TestRunsByHand(t *testing.T) {
	for what, c := range map[string]struct {
		p               Problem
		want            string
		nozzles, opened int
	}{
		"one nozzle, narrow cuts first": {
			oneBay(grey("a", "roof", 30, round8), grey("b", "floor", 30, round6)), "b C1 first, a C1", 1, 0,
		},
		"same tip together": {
			oneBay(grey("a", "roof", 20, round8), grey("b", "roof", 20, flat25), grey("c", "floor", 20, round8)),
			"c C1 first, a C1, b C1 tip", 2, 0,
		},
		"a new cartridge saves the nozzle that the old one would take": {
			oneBay(grey("a", "roof", 60, round8), grey("b", "roof", 60, round8)), "a a new cartridge of lot L1 first, b a new cartridge of lot L1", 1, 1,
		},
		"the opened one holds it":  {oneBay(grey("a", "roof", 85, round8)), "a C1 first", 1, 0},
		"by half a millilitre not": {oneBay(grey("a", "roof", 85.5, round8)), "a a new cartridge of lot L1 first", 1, 1},
	} {
		r := must(Make(c.p))
		judge(t, c.p, r)
		if told(r) != c.want || r.Totals.Nozzles != c.nozzles || r.Totals.Opened != c.opened || !r.Proved {
			t.Errorf("%s: %s; %+v proved %v", what, told(r), r.Totals, r.Proved)
		}
	}
}

// A nozzle that is still good goes first while it is, and not a moment later.
func TestNozzleThatIsStillGood(t *testing.T) {
	takes := UsualTimes().Take + UsualTimes().Cut // its tip is cut wider
	for gels, want := range map[time.Duration]string{
		5 * time.Minute: "a C1 nozzle-ready", takes: "a C1 nozzle-ready", takes - time.Second: "a C1 first", -time.Minute: "a C1 first",
	} {
		p := oneBay(grey("a", "roof", 30, round8))
		p.Opened[0].Nozzle = Nozzle{ID: "N1", Tip: round6, Purged: true, GelsBy: monday.Add(gels)}
		r := must(Make(p))
		judge(t, p, r)
		if told(r) != want {
			t.Errorf("good for %v: %s, want %s", gels, told(r), want)
		}
	}
}

// A walk that outlasts the gel time takes another nozzle; to the second it
// does not.
func TestWalkAgainstGelTime(t *testing.T) {
	for walk, nozzles := range map[time.Duration]int{8 * time.Minute: 1, 8*time.Minute + time.Second: 2} {
		p := oneBay(grey("a", "roof", 20, round8), grey("b", "floor", 20, round8))
		p.Times.WalkPanel, p.Times.WalkCar = walk, time.Hour
		r := must(Make(p))
		judge(t, p, r)
		if r.Totals.Nozzles != nozzles {
			t.Errorf("walk of %v: %d nozzles, want %d", walk, r.Totals.Nozzles, nozzles)
		}
		if last := r.Steps[1]; nozzles == 2 && (last.Change != WouldGel || !strings.Contains(last.Why, "8 min 1 s") || !strings.Contains(last.Why, "gels in 8 min")) {
			t.Errorf("%q: %s", last.Change, last.Why)
		}
	}
}

// A tip is cut wider in its time, while the nozzle rests; where that outlasts
// the gel time, another nozzle is fitted. The numbers are by hand: take, fit,
// a minute of laying, the cut.
func TestCuttingATipTakesTime(t *testing.T) {
	wider := func(change func(*Problem)) (Problem, Run) {
		p := oneBay(grey("b", "roof", 30, round6), grey("a", "roof", 30, round8))
		change(&p)
		r := must(Make(p))
		judge(t, p, r)
		return p, r
	}
	p, r := wider(func(*Problem) {})
	if a := r.Steps[1]; told(r) != "b C1 first, a C1" || !a.Recut || a.Pause != p.Times.Cut || a.Begins != p.Times.Take+p.Times.Fit+time.Minute+p.Times.Cut {
		t.Errorf("%s: %+v", told(r), a)
	}
	if _, r = wider(func(p *Problem) { p.Times.Cut = 8 * time.Minute }); r.Totals.Nozzles != 1 {
		t.Errorf("in just the gel time: %s", told(r))
	}
	if _, r = wider(func(p *Problem) { p.Times.Cut = 8*time.Minute + time.Second }); r.Totals.Nozzles != 2 || r.Steps[1].Change != WouldGel ||
		r.Steps[1].Why != "The way there and cutting its tip wider take 8 min 1 s and the nozzle gels in 8 min. Fit another nozzle." {
		t.Errorf("in more than the gel time: %s: %s", told(r), r.Steps[1].Why)
	}
	if _, r = wider(func(p *Problem) {
		p.Seams[0].Tip.Kind, p.Seams[1].Tip.Kind = spec.GuidedStep, spec.GuidedStep
		p.Times.Cut = time.Hour
	}); r.Totals.Nozzles != 1 || r.Steps[1].Recut {
		t.Errorf("a guided nozzle is not cut: %s", told(r))
	}
}

func TestJointIsTheLastResort(t *testing.T) {
	long := grey("ditch", "roof", 300, round8)
	long.MayJoin = true
	p := oneBay(long, grey("b", "roof", 30, round8))
	r := must(Make(p))
	judge(t, p, r)
	want := "ditch a new cartridge of lot L1 first, ditch new cartridge 2 of lot L1 joint, b new cartridge 2 of lot L1"
	if told(r) != want && told(r) != "b C1 first, ditch a new cartridge of lot L1 cartridge-short, ditch new cartridge 2 of lot L1 joint" {
		t.Errorf("%s", told(r))
	}
	if r.Totals.Nozzles != 2 || r.Totals.Laid != 2 {
		t.Errorf("%+v", r.Totals)
	}
}

func TestWhatIsLeftOutAndWhy(t *testing.T) {
	change := func(f func(*Problem)) Problem {
		p := oneBay(grey("a", "roof", 30, round8), grey("fine", "roof", 10, round8))
		p.Products = append(p.Products, Product{ID: "white", Gel: time.Minute})
		f(&p)
		return p
	}
	for what, c := range map[string]struct {
		p            Problem
		reason, says string
	}{
		"no product":      {change(func(p *Problem) { p.Seams[0].ProductID = "" }), "no-product", "settle its plan"},
		"unknown product": {change(func(p *Problem) { p.Seams[0].ProductID = "red" }), "no-product", "red"},
		"no volume":       {change(func(p *Problem) { p.Seams[0].Volume = 0 }), "volume-unknown", "width"},
		"no laying":       {change(func(p *Problem) { p.Seams[0].Laying = 0 }), "laying-unknown", "length"},
		"no stock":        {change(func(p *Problem) { p.Seams[0].ProductID = "white" }), "no-stock", "no white in stock"},
		"expired stock": {change(func(p *Problem) {
			p.Seams[0].ProductID = "white"
			p.Lots = append(p.Lots, Lot{ID: "L9", ProductID: "white", Shelf: 1, Cartridge: 200, Expires: monday.AddDate(0, 0, -3)})
		}), "no-stock", "lot L9: it expired on 2026-02-27"},
		"recalled stock": {change(func(p *Problem) {
			p.Seams[0].ProductID = "white"
			p.Lots = append(p.Lots, Lot{ID: "L9", ProductID: "white", Shelf: 1, Cartridge: 200, Recalled: true})
		}), "no-stock", "recalled"},
		"opened life over": {change(func(p *Problem) {
			p.Seams[0].ProductID = "white"
			p.Products[1].OpenedLife = 24 * time.Hour
			p.Opened = append(p.Opened, Cartridge{ID: "C9", ProductID: "white", Left: 50, Opened: monday.AddDate(0, 0, -2)})
		}), "no-stock", "C9: it was opened on 2026-02-28 and its life once opened was over on 2026-03-01"},
		"gel not known": {change(func(p *Problem) {
			p.Products[1].Gel = 0
			p.Seams[0].ProductID = "white"
		}), "gel-unknown", "nozzle gel time"},
		"longer than gel":   {change(func(p *Problem) { p.Seams[0].Laying = 8*time.Minute + time.Second }), "longer-than-gel", "8 min 1 s"},
		"no joint":          {change(func(p *Problem) { p.Seams[0].Volume = 230 }), "no-joint", "185 ml"},
		"all but the purge": {change(func(p *Problem) { p.Seams[0].Volume = 190 }), "nozzle-takes-it", "185 ml"},
		"not enough at all": {change(func(p *Problem) { p.Seams[0].Volume, p.Seams[0].MayJoin = 2000, true }), "too-little", "receive a lot"},
		"too slow a joint": {change(func(p *Problem) {
			p.Seams[0].Volume, p.Seams[0].MayJoin, p.Products[0].Tooling = 190, true, time.Minute
		}), "no-joint", "1 min"},
		"others took it": {change(func(p *Problem) {
			p.Lots, p.Seams[0].Volume, p.Seams[1].Volume = nil, 80, 70
			p.Times.Fit = 0
			p.Seams[0].ID, p.Seams[1].ID = "fine", "a"
		}), "too-little", "receive a lot"},
	} {
		r := must(Make(c.p))
		judge(t, c.p, r)
		if len(r.Unplanned) != 1 || r.Unplanned[0].SeamID != "a" || r.Unplanned[0].Reason != c.reason || !strings.Contains(r.Unplanned[0].Why, c.says) || r.Totals.Laid != 1 {
			t.Errorf("%s: %+v, %d laid", what, r.Unplanned, r.Totals.Laid)
		}
	}
}

func TestRefusedProblems(t *testing.T) {
	for field, f := range map[string]func(*Problem){
		"start":                     func(p *Problem) { p.Start = time.Time{} },
		"seams":                     func(p *Problem) { p.Seams = make([]Seam, MaxSeams+1) },
		"seams[0].id":               func(p *Problem) { p.Seams[0].ID = "" },
		"seams[1].id":               func(p *Problem) { p.Seams = append(p.Seams, p.Seams[0]) },
		"seams[0].volume_ml":        func(p *Problem) { p.Seams[0].Volume = quantity.Volume(math.NaN()) },
		"seams[0].laying":           func(p *Problem) { p.Seams[0].Laying = -1 },
		"seams[0].tip.kind":         func(p *Problem) { p.Seams[0].Tip.Kind = "brush" },
		"seams[0].tip.cut_mm":       func(p *Problem) { p.Seams[0].Tip.CutMM = math.Inf(1) },
		"products[0].gel":           func(p *Problem) { p.Products[0].Gel = -1 },
		"products[0].purge_ml":      func(p *Problem) { p.Products[0].Losses.PurgeML = -1 },
		"products[0].hold_up_ml":    func(p *Problem) { p.Products[0].Losses.HoldUpML = math.NaN() },
		"products[0].waste_percent": func(p *Problem) { p.Products[0].Losses.WastePercent = math.NaN() },
		"products[0].equalise_ml":   func(p *Problem) { p.Products[0].Equalise = -1 },
		"products[1].id":            func(p *Problem) { p.Products = append(p.Products, p.Products[0]) },
		"lots[0].product":           func(p *Problem) { p.Lots[0].ProductID = "" },
		"lots[0].cartridge_ml":      func(p *Problem) { p.Lots[0].Cartridge = -1 },
		"lots[0].shelf":             func(p *Problem) { p.Lots[0].Shelf = -1 },
		"opened[0].left_ml":         func(p *Problem) { p.Opened[0].Left = quantity.Volume(math.Inf(1)) },
		"opened[0].nozzle.cut_mm":   func(p *Problem) { p.Opened[0].Nozzle.Tip.CutMM = -1 },
		"times.fit":                 func(p *Problem) { p.Times.Fit = -1 },
		"times.cut":                 func(p *Problem) { p.Times.Cut = -1 },
		"times.walk_car":            func(p *Problem) { p.Times.WalkCar = 0 },
	} {
		p := oneBay(grey("a", "roof", 30, round8))
		f(&p)
		if _, err := Make(p); err == nil || fault.KindOf(err) != fault.Invalid || !strings.HasPrefix(err.Error(), field+": ") {
			t.Errorf("%s: %v", field, err)
		}
	}
}

// Nothing to lay, nothing to lay it with.
func TestEmptyProblems(t *testing.T) {
	for _, p := range []Problem{{Start: monday}, {Start: monday, Seams: []Seam{{ID: "a"}}}} {
		r := must(Make(p))
		judge(t, p, r)
		if r.Steps == nil || r.Stored == nil || r.Asides == nil || r.Unplanned == nil || !r.Proved {
			t.Errorf("%+v", r)
		}
	}
}

// The rate law is checked against its sources in package cure; here that the
// hot side and the tolerance count.
func TestGelAt(t *testing.T) {
	law := must(cure.NewLaw(52e3, 21))
	if got := must(GelAt(law, 8*time.Minute, 0.1, 21)); got != 432*time.Second {
		t.Errorf("at the reference %v, want 8 min less a tenth", got)
	}
	// 8.314462618 J/(mol K), 52 kJ/mol, 21 to 31 °C: a factor of 2.0122 by hand.
	want := 480 / math.Exp(52e3/8.314462618*(1/294.15-1/304.15))
	if got := must(GelAt(law, 8*time.Minute, 0, 31)).Seconds(); math.Abs(got-want) > 1e-6 {
		t.Errorf("10 K warmer %v, want %v", got, want)
	}
	for _, c := range []float64{-61, 201, math.NaN()} {
		if d, err := GelAt(law, time.Minute, 0, c); err == nil {
			t.Errorf("%v °C: %v", c, d)
		}
	}
	if d, err := GelAt(cure.Law{}, time.Minute, 0, 20); err == nil {
		t.Errorf("no law: %v", d)
	}
}

func TestJoins(t *testing.T) {
	for _, p := range spec.Profiles() {
		if got := Joins(p); got != (p == spec.Levelled || p == spec.Brushed) {
			t.Errorf("%s: %v", p, got)
		}
	}
}

func FuzzMake(f *testing.F) {
	f.Fuzz(rapid.MakeFuzz(func(t *rapid.T) {
		p := drawProblem(t, rapid.IntRange(0, 16).Draw(t, "seams"))
		judge(t, p, must(Make(p)))
	}))
}
