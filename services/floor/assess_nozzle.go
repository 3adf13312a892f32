package floor

import (
	"fmt"
	"time"

	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/calc/spec"
)

// gelling is a mixer that had gelled, or may have, before material was moved
// through it again.
type gelling struct {
	begin   time.Time // of that movement
	flow    time.Time // the one before it
	verdict cure.Verdict
	here    bool // found at the laying that is judged, not before
}

// nozzle asks whether the mixer had gelled when laying began. One that may
// have gelled stays so until another is fitted: pushing on brings lumps, not
// fresh material.
func (c *seamCheck) nozzle(_ *Cartridge, p *Product) {
	l := c.f.lay
	if p == nil || l.cartridge == "" {
		return
	}
	g, ok := c.a.fl.gelled(c.a.book, l.cartridge, c.f)
	if !ok {
		return
	}
	word := "had gelled"
	if g.verdict.Reached == cure.Maybe {
		word = "may have gelled"
	}
	v := g.verdict
	grounds := fmt.Sprintf("material last moved through it at %s, %.0f min at the hot end of its age, %.0f allowed less %.0f %%",
		clockTime(g.flow), v.AgeHotS/60, v.NeededS/60, 100*v.Tolerance)
	if g.here {
		c.add("nozzle-gelled", spec.Stop, fmt.Sprintf("The nozzle %s when laying began at %s: %s.", word, clockTime(l.begun), grounds), productSheet)
		return
	}
	c.add("nozzle-gelled", spec.Stop, fmt.Sprintf("The nozzle %s before it was used at %s and no other was fitted since: %s.", word, clockTime(g.begin), grounds), productSheet)
}

// gelled looks through what moved through the nozzle that a layer was laid
// with, since it was fitted, for a pause that was too long.
func (fl *Floor) gelled(b *book, id CartridgeID, lay *fact) (g gelling, found bool) {
	c := newCartridge(id)
	for _, f := range append(before(ofCartridge(b, id), lay), lay) {
		if f.lay != nil && f.lay.nozzle != "" && f.lay.nozzle != c.Nozzle {
			found = false // another one, whose fitting was not told
		} else if p, ok := fl.pause(b, c, f); ok && !found {
			g, found = p, true
			g.here = f == lay
		}
		fitted := c.FittedSeq
		fl.cartridgeFact(b, c, f)
		found = found && c.Nozzle != "" && c.FittedSeq == fitted
	}
	return g, found
}

// pause judges the nozzle at the moment that a fact moved material through
// it: at its begin, as late as that may have been.
func (fl *Floor) pause(b *book, c *Cartridge, f *fact) (gelling, bool) {
	begin, late := f.at, f.late
	if f.lay != nil {
		begin, late = f.lay.begun, f.lay.begun.Add(f.lay.endedLate.Sub(f.lay.ended))
	} else if _, ok := f.body.(*materialsv1.CartridgePurged); !ok {
		return gelling{}, false
	}
	if !c.Flowed() || f.lay != nil && f.lay.cartridge != c.ID {
		return gelling{}, false
	}
	r, ok := fl.gelClock(b, c)
	if !ok {
		return gelling{}, false
	}
	v := cure.JudgeHindsight(r.where, r.clock, late)
	return gelling{begin: begin, flow: c.LastFlow.At, verdict: v}, v.Reached != cure.No
}
