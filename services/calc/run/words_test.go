package run

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"seamwright/services/calc/bead"
	"seamwright/services/calc/quantity"
	"seamwright/services/calc/spec"
)

// Two products on five panels, the seams of one lying between those of the
// other: it takes two cartridges of each, and nobody goes back and forth
// between them for a shorter way.
func TestARunStaysWithTheProductOnTheGun(t *testing.T) {
	p := Problem{Start: monday, Times: UsualTimes()}
	for _, id := range []string{"grey", "white"} {
		p.Products = append(p.Products, Product{ID: id, Gel: 5 * time.Minute, Losses: bead.Losses{PurgeML: 5, HoldUpML: 5, WastePercent: 5}, Equalise: 1})
	}
	p.Lots = []Lot{{ID: "G1", ProductID: "grey", Shelf: 5, Cartridge: 220}, {ID: "W1", ProductID: "white", Shelf: 5, Cartridge: 200}}
	for i, ml := range []float64{60, 90, 30, 60, 45, 30, 90, 45, 60, 90, 30} {
		p.Seams = append(p.Seams, Seam{
			ID: fmt.Sprint("s", i), RO: "2500", Panel: fmt.Sprint("p", i*3%5), ProductID: []string{"grey", "white"}[i%2], Volume: quantity.Volume(ml),
			Laying: 75 * time.Second, Tip: spec.Nozzle{Kind: spec.RoundTip, CutMM: 6 + 2*float64(i%2)},
		})
	}
	r := must(Make(p))
	judge(t, p, r)
	swaps, on := 0, r.Steps[0].Pack.LotID
	for _, s := range r.Steps {
		if s.Pack.LotID != on {
			swaps, on = swaps+1, s.Pack.LotID
		}
	}
	if swaps != 1 || r.Totals.Swaps != 1 || !r.Proved || r.Totals.Laid != 11 {
		t.Errorf("%d changes of product, told are %d: %s", swaps, r.Totals.Swaps, told(r))
	}
}

// asideOf is what is said of a cartridge or a lot that is not used.
func asideOf(r Run, id string) string {
	for _, a := range r.Asides {
		if a.ID == id || a.ID == "" && a.LotID == id {
			return a.Why
		}
	}
	return ""
}

// left is why a seam is left out.
func leftOf(r Run, id string) (reason, why string) {
	for _, u := range r.Unplanned {
		if u.SeamID == id {
			return u.Reason, u.Why
		}
	}
	return "", ""
}

// What keeps a seam from being laid is said, not something else: the purge and
// the mixing nozzle, the gel time, or that there is too little.
func TestASeamThatIsLeftOutIsToldTheTrueReason(t *testing.T) {
	for what, c := range map[string]struct {
		change      func(*Problem)
		reason, why string
	}{
		"the purge takes all of a cartridge": {
			func(p *Problem) { p.Products[0].Losses.PurgeML = 193 }, "nozzle-takes-it",
			"It takes 30 ml. The fullest cartridge of grey, a new cartridge of lot L1, holds 200 ml, yet a new nozzle takes 200 ml of it, 193 to purge and 7 that stay in it; " +
				"0 ml are left for the bead: purge less.",
		},
		"the nozzle takes what is missing": {
			func(p *Problem) { p.Lots[0].Shelf, p.Opened[0].Left = 0, 40 }, "nozzle-takes-it",
			"It takes 30 ml. The fullest cartridge of grey, C1, holds 40 ml, yet a new nozzle takes 15 ml of it, 8 to purge and 7 that stay in it; 25 ml are left for the bead: receive a lot.",
		},
		"the nozzle that is on gels too soon": {
			func(p *Problem) {
				p.Lots[0].Shelf, p.Opened[0].Left = 0, 40
				p.Opened[0].Nozzle = Nozzle{ID: "N1", Tip: round6, Purged: true, GelsBy: monday.Add(10 * time.Second)}
			}, "nozzle-takes-it",
			"It takes 30 ml. After the other seams the fullest cartridge of grey, C1, holds 40 ml, the nozzle on it gels in 10 s, before it could be used, " +
				"and a new nozzle takes 15 ml of it, 8 to purge and 7 that stay in it: receive a lot.",
		},
		"too little": {
			func(p *Problem) { p.Lots[0].Shelf, p.Opened[0].Left = 0, 20 }, "too-little",
			"It takes 30 ml and the fullest cartridge of grey, C1, holds 20 ml; no lot has enough of them: receive a lot.",
		},
		"the purge takes much of a cartridge": {
			func(p *Problem) { p.Products[0].Losses.PurgeML = 173 }, "nozzle-takes-it",
			"holds 200 ml, yet a new nozzle takes 180 ml of it, 173 to purge and 7 that stay in it; 20 ml are left for the bead: purge less, settle a joint on it or lay it as two seams.",
		},
		"more than a cartridge": {
			func(p *Problem) { p.Seams[0].Volume = 230 }, "no-joint",
			"It takes 230 ml, a cartridge of grey gives 185 ml behind its nozzle (a new nozzle takes 15 ml of it, 8 to purge and 7 that stay in it), and its bead may not have a joint: settle a joint on it or lay it as two seams.",
		},
		"more than a cartridge of its size": {
			func(p *Problem) { p.Lots, p.Seams[0].Volume, p.Products[0].Cartridge = nil, 230, 200 }, "too-little",
			"It takes 230 ml and the fullest cartridge of grey, C1, holds 100 ml; no lot has enough of them: a full cartridge holds 200 ml, so settle a joint on it or lay it as two seams.",
		},
		"the nozzle of a full cartridge": {
			func(p *Problem) { p.Lots, p.Seams[0].Volume, p.Products[0].Cartridge = nil, 95, 100 }, "nozzle-takes-it",
			"85 ml are left for the bead: purge less, settle a joint on it or lay it as two seams.",
		},
		"the nozzle of a fuller one than there is": {
			func(p *Problem) {
				p.Lots, p.Opened[0].Left, p.Seams[0].Volume, p.Products[0].Cartridge, p.Products[0].Losses.PurgeML = nil, 95, 90, 100, 8
			}, "nozzle-takes-it",
			"80 ml are left for the bead: a full cartridge of 100 ml gives 85 ml, so purge less, settle a joint on it or lay it as two seams.",
		},
		"a joint takes many": {
			func(p *Problem) { p.Seams[0].Volume, p.Seams[0].MayJoin = 1000, true }, "too-little", "receive a lot of at least 6 cartridges.",
		},
		"the gel time": {
			func(p *Problem) { p.Seams[0].Laying = 9 * time.Minute }, "longer-than-gel", "Laying it takes 9 min and a nozzle of grey gels in 8 min at this bay's temperature",
		},
	} {
		p := oneBay(grey("a", "roof", 30, round8))
		c.change(&p)
		r := must(Make(p))
		judge(t, p, r)
		if reason, why := leftOf(r, "a"); reason != c.reason || !strings.Contains(why, c.why) {
			t.Errorf("%s:\n%s: %s\nwant\n%s: %s", what, reason, why, c.reason, c.why)
		}
		if len(r.Asides) > 0 {
			t.Errorf("%s: nothing is laid, and of the stock it is said %+v", what, r.Asides)
		}
	}
}

// The other seams took what there was: what they leave is told, with what a
// new nozzle would take of it.
func TestWhatTheOtherSeamsLeave(t *testing.T) {
	p := oneBay(grey("a", "roof", 50, round8), grey("b", "floor", 30, flat25))
	p.Lots[0].Shelf = 0
	r := must(Make(p))
	judge(t, p, r)
	if reason, why := leftOf(r, "a"); reason != "nozzle-takes-it" || why != "It takes 50 ml. After the other seams the fullest cartridge of grey, C1, holds 55 ml, and a new nozzle takes 15 ml of it, 8 to purge and 7 that stay in it: receive a lot." {
		if reason, why := leftOf(r, "b"); reason != "nozzle-takes-it" || why != "It takes 30 ml. After the other seams the fullest cartridge of grey, C1, holds 35 ml, and a new nozzle takes 15 ml of it, 8 to purge and 7 that stay in it: receive a lot." {
			t.Errorf("%+v", r.Unplanned)
		}
	}
}

// Each opened cartridge that is not used has its reason; stock of products that
// are not laid is not spoken of.
func TestAnOpenedCartridgeThatIsNotUsedIsToldWhy(t *testing.T) {
	for what, c := range map[string]struct {
		change func(*Problem)
		why    string
	}{
		"it would take a nozzle more": {func(p *Problem) { p.Seams[0].Volume, p.Seams[1].Volume = 60, 60 }, "100 ml are in it, to be used by 2026-05-21, before what is taken: with it the run takes 2 nozzles in place of 1, and each new one takes 15 ml."},
		"its nozzle takes all of it":  {func(p *Problem) { p.Opened[0].Left = 9 }, "it holds 9 ml and a new nozzle takes 15 ml of it, 8 to purge and 7 that stay in it: nothing would be left for a bead, so throw it away"},
		"its nozzle takes too much":   {func(p *Problem) { p.Opened[0].Left = 35 }, "it holds 35 ml and a new nozzle takes 15 ml of it, 8 to purge and 7 that stay in it: 20 ml are left for a bead, and the smallest of these takes 30 ml"},
		"too little":                  {func(p *Problem) { p.Opened[0].Left = 29 }, "it holds 29 ml, and the smallest of these seams takes 30 ml"},
		"its opened life is over":     {func(p *Problem) { p.Opened[0].Opened = monday.AddDate(0, 0, -91) }, "it was opened on 2025-12-01 and its life once opened was over on 2026-03-01: throw it away"},
		"its lot expired":             {func(p *Problem) { p.Opened[0].Expires = monday.AddDate(0, 0, -1) }, "its lot expired on 2026-03-01: throw it away"},
		"by the book it is empty":     {func(p *Problem) { p.Opened[0].Left = -3 }, "nothing is left in it by the book: weigh it, or tell that it is empty"},
		"its nozzle gels first": {
			func(p *Problem) {
				p.Opened[0].Left = 40
				p.Opened[0].Nozzle = Nozzle{ID: "N1", Tip: round6, Purged: true, GelsBy: monday.Add(10 * time.Second)}
			},
			"40 ml are in it, to be used by 2026-05-21, before what is taken: the nozzle on it gels in 10 s, before a bead could be begun, and a new nozzle takes 15 ml of it, 8 to purge and 7 that stay in it, which leaves 25 ml.",
		},
		"its nozzle is of another kind": {
			func(p *Problem) {
				p.Opened[0].Left = 40
				p.Opened[0].Nozzle = Nozzle{ID: "N1", Tip: flat25, Purged: true, GelsBy: monday.Add(time.Hour)}
			}, "the nozzle on it has another tip than these seams want",
		},
		"another must be used sooner": {
			func(p *Problem) {
				p.Opened = append(p.Opened, p.Opened[0])
				p.Opened[1].ID, p.Opened[1].Opened = "C0", monday.AddDate(0, 0, -20)
			}, "with it older stock would be passed over",
		},
		"it takes longer": {
			func(p *Problem) {
				p.Lots, p.Opened = nil, append(p.Opened, p.Opened[0])
				p.Opened[1].ID = "C0"
				p.Opened[0].Nozzle = Nozzle{}
			}, "a run with it is as good and no better",
		},
	} {
		p := oneBay(grey("a", "roof", 30, round8), grey("b", "roof", 30, round8))
		p.Products = append(p.Products, Product{ID: "white", Gel: time.Second, OpenedLife: time.Hour})
		p.Opened = append(p.Opened[:1:1], p.Opened[1:]...)
		c.change(&p)
		p.Opened = append(p.Opened, Cartridge{ID: "W1", LotID: "W", ProductID: "white", Left: 100, Opened: monday.AddDate(-1, 0, 0)})
		p.Lots = append(p.Lots, Lot{ID: "W", ProductID: "white", Expires: monday.AddDate(-1, 0, 0), Shelf: 1, Cartridge: 200})
		p.Seams = append(p.Seams, Seam{ID: "w", RO: "2207", ProductID: "white", Volume: 10, Laying: time.Minute, Tip: round8})
		r := must(Make(p))
		judge(t, p, r)
		if got := asideOf(r, "C1"); !strings.Contains(got, c.why) || r.Totals.Laid != 2 {
			t.Errorf("%s, %s: %q\nwant %q", what, told(r), got, c.why)
		}
		if said := asideOf(r, "W1") + asideOf(r, "W"); said != "" {
			t.Errorf("%s: of a product that is not laid: %s", what, said)
		}
	}
}
