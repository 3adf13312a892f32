package floor_test

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"seamwright/services/floor"
)

// snapshot is what a floor amounts to, without the numbers that only tell the
// order in which it was heard: things by name, and what is wrong about them.
func snapshot(f *floor.Floor, at time.Time) string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	for _, id := range f.Seams() {
		s := f.Seam(id)
		line("seam %s %s substrate %s prepped %v coated %v %s waxed %v reworks %d photos %d plan %v procedure %v in %v", id, s.Stage,
			s.Substrate, s.PreppedAt, s.CoatedAt, s.CoatedWith, s.Waxed, s.Reworks, s.Photos, s.Plan, s.Procedure, f.Places(s, at))
		if d := s.Bead; d != nil {
			line("  bead %v ready %v spent %v ended %v %s %s by %s elsewhere %v tooled %v deaired %v disturbed %v complete %v",
				d.Layers, d.ReadyFrom, d.SpentFrom, d.Ended, d.Technique, d.Profile, d.By, d.Elsewhere, d.Tooled, d.Deaired, d.Disturbed, s.Complete())
			if d.Scuffed != nil {
				line("  scuffed %v", d.Scuffed.At)
			}
			if d.Product != nil {
				line("  product %s", d.Product.ID)
			}
		}
		for _, u := range f.Uses(id) {
			line("  use %s of %s at %v: %d by the book, %d %s, removed %v", u.Layer, u.Cartridge, u.At, u.Booked, u.Volume, u.Basis, u.Removed)
		}
		for _, c := range f.Clocks(id, at) {
			line("  clock %v %s %v %s cold %v hot %v", c.ClockID.Clock, c.Coat, c.Clock.Kind, c.Reached, c.DueCold, c.DueHot)
		}
	}
	for _, id := range f.Cartridges() {
		c := f.Cartridge(id)
		line("cartridge %s lot %s product %s opened %v equalised %v nozzle %s purged %v flow %v %v full %d left %d laid %d spent %d discarded %d missing %d stored %v",
			id, c.Lot, c.Product, c.Opened, c.Equalised, c.Nozzle, c.Purged, c.LastFlow.At, f.FlowZone(c.LastFlow), c.Full, c.Remaining, c.Laid, c.Spent, c.Discarded, c.Missing, c.Stored)
	}
	for _, id := range f.Nozzles() {
		n := f.Nozzle(id)
		line("nozzle %s on %s %v fitted %v", id, n.Cartridge, n.On, n.Fitted)
	}
	for _, id := range f.Lots() {
		bal, _ := f.Balance(id)
		line("lot %+v %+v", *f.Lot(id), bal)
	}
	for _, id := range f.Loads() {
		l := f.Load(id)
		line("load %s booth %s sprayed %v permit %s finished %v", id, l.Booth, l.Sprayed, l.Permit, l.Finished)
	}
	for _, w := range f.Wastes("2207") {
		line("waste %s of %s at %v: %d %v for %s", w.Kind, w.Cartridge, w.At, w.Volume, w.Known, w.For.Seam)
	}
	line("tablet %s", f.Tablet("2207"))
	for _, s := range wrongs(f) {
		line("finding %s", s)
	}
	return b.String()
}

// wrongs lists the findings that hold, sorted.
func wrongs(f *floor.Floor) []string {
	var out []string
	for _, s := range f.AllFindings() {
		if !s.Lapsed {
			out = append(out, fmt.Sprintf("%s %s %s open %v", s.Rule, s.Severity, s.Thing(), s.Open()))
		}
	}
	slices.Sort(out)
	return out
}
