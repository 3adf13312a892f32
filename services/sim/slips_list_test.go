package sim_test

// slip is a plausible slip of a hurried programmer in the program's own
// source: the old text must stand in the file exactly once.
type slip struct {
	name, file, old, new string
	quick                bool   // part of the short selection
	by                   string // what it broke when all were last run: an invariant, or the account
	years                int    // the shop-years up to there
}

// slips are what the simulated years must find.
func slips() []slip {
	var out []slip
	for _, of := range [][]slip{cureSlips, floorSlips, findingSlips, gateSlips, keeperSlips, journalSlips, stockSlips} {
		out = append(out, of...)
	}
	return out
}

var cureSlips = []slip{
	{
		name: "hot and cold ends of an energy band swapped", by: "I9", years: 1, file: "services/calc/cure/law.go",
		old: "case (side == Cold) == (tempC >= l.refC):", new: "case (side == Hot) == (tempC >= l.refC):",
	},
	{
		name: "tolerance taken off what must be reached", by: "I9", years: 1, file: "services/calc/cure/verdict.go", quick: true,
		old: "return needed * (1 + c.Tolerance)", new: "return needed * (1 - c.Tolerance)",
	},
	{
		name: "tolerance added to what must not be passed", by: "I9", years: 1, file: "services/calc/cure/verdict.go",
		old: "	case Hot:\n		return needed * (1 - c.Tolerance)", new: "	case Hot:\n		return needed * (1 + c.Tolerance)",
	},
	{
		name: "below the least temperature it cures on", by: "I9", years: 1, file: "services/calc/cure/law.go",
		old: "return l.hasMin && side != Hot && tempC", new: "return l.hasMin && side == Nominal && tempC",
	},
	{
		name: "the cone does not grow downwards", by: "I1", years: 1, file: "services/calc/cure/segment.go",
		old: "	case cone:\n		return math.Max(s.a.Lo-s.drift*t, s.bounds.Lo)", new: "	case cone:\n		return math.Max(s.a.Lo, s.bounds.Lo)",
	},
	{
		name: "drift per minute taken per second", by: "account", years: 1, file: "services/calc/cure/segment.go",
		old: "drift: c.zone.DriftPerMin / 60,", new: "drift: c.zone.DriftPerMin,",
	},
	{
		name: "a jump taken for the truth", by: "account", years: 1, file: "services/calc/cure/course.go",
		old: "met, m.jump = grown.Hull(r), !m.joins", new: "met, m.jump = r, !m.joins",
	},
	{
		name: "old enough to be stale is still fresh", by: "I3", years: 1, file: "services/calc/cure/view.go",
		old: "return ok && t.Sub(r.At) <= v.c.zone.StaleAfter", new: "return ok && t.Sub(r.At) <= 2*v.c.zone.StaleAfter",
	},
	{
		name: "just as old as it may be counts as stale", by: "account", years: 1, file: "services/calc/cure/view.go",
		old: "return ok && t.Sub(r.At) <= v.c.zone.StaleAfter", new: "return ok && t.Sub(r.At) < v.c.zone.StaleAfter",
	},
	{
		name: "rebuild of the sums forgotten after a late reading", by: "I9", years: 1, file: "services/calc/cure/course.go",
		old: "	c.sums.cut(i)\n", new: "",
	},
	{
		name: "what a bead cured before it settled is taken twice, not off", by: "I9", years: 1, file: "services/cures/watch.go",
		old: "if from, amount = a.Alone, amount-before; !ok", new: "if from, amount = a.Alone, amount+before; !ok",
	},
}

var floorSlips = []slip{
	{
		name: "ready counted from the begin of laying", by: "I9", years: 1, file: "services/floor/seam_lay.go", quick: true,
		old: "d.ReadyFrom = later(d.ReadyFrom, l.endedLate)", new: "d.ReadyFrom = later(d.ReadyFrom, l.begun)",
	},
	{
		name: "the nozzle's previous flow forgotten", by: "I9", years: 1, file: "services/floor/seam_lay.go",
		old: "if c != nil && c.Flowed() && c.LastFlow.Early.Before(from) {", new: "if c != nil && c.Flowed() && c.LastFlow.Early.After(from) {",
	},
	{
		name: "a claimed age is believed", by: "I9", years: 1, file: "services/floor/command.go",
		old: "h.AgeKind, h.Latest = AgeClaimed, received", new: "h.AgeKind = AgeClaimed",
	},
	{
		name: "hull while it settles replaced by the new zone", by: "I9", years: 1, file: "services/floor/path.go",
		old: "p.zones = union(union(p.zones, y.zones), y.before)", new: "p.zones = union(p.zones, y.zones)",
	},
	{
		name: "after a move the zone before it", by: "account", years: 1, file: "services/floor/path.go",
		old: "p.now, p.zones = y.zone, y.zones", new: "p.now, p.zones = y.zone, y.before",
	},
	{
		name: "a withdrawn fact is kept", by: "account", years: 1, file: "services/floor/retract.go",
		old: "	fl.lapseOf(seq)\n	ev := e.ev\n	return fl.takeOut(&ev)", new: "	fl.lapseOf(seq)\n	return nil",
	},
	{
		name: "a withdrawn reading is kept", by: "I9", years: 2, file: "services/floor/retract.go",
		old: "return fl.unread(b, ev.Seq)", new: "return nil",
	},
	{
		name: "a scuffed bead's window counts from the laying", by: "account", years: 1, file: "services/floor/clocks.go",
		old: "c.From, id.Began = d.Scuffed.At, d.Scuffed.Began", new: "id.Began = d.Scuffed.Began",
	},
	{
		name: "the first coat is over when it begins", by: "I2", years: 1, file: "services/floor/gate.go",
		old: "g.end = g.at.Add(g.fl.FirstCoat(l))", new: "g.end = g.at",
	},
	{
		name: "what was purged stays in the cartridge", by: "I11", years: 1, file: "services/floor/cartridge.go",
		old: "	case *materialsv1.CartridgePurged:\n		c.spend(e.GetVolumeMl())\n", new: "	case *materialsv1.CartridgePurged:\n",
	},
	{
		name: "a bead that is taken off is counted and lies on", by: "account", years: 1, file: "services/floor/seam_fold.go",
		old: "		s.strip()\n	case *jobsv1.DoneElsewhere:", new: "		s.Reworks++\n	case *jobsv1.DoneElsewhere:",
	},
}

var findingSlips = []slip{
	{
		name: "a recall holds nothing that was laid before", by: "account", years: 1, file: "services/floor/assess.go",
		old: "		lots = []LotID{LotID(id)}\n", new: "		lots = nil\n",
	},
	{
		name: "an order to redo counts as an answer", by: "I1", years: 1, file: "services/floor/finding.go",
		old: "	case floorv1.Disposition_DISPOSITION_SCUFF, floorv1.Disposition_DISPOSITION_REDO:\n		return !s.done\n	}\n	return false\n}\n\n// Seam is", new: "	}\n	return false\n}\n\n// Seam is",
	},
	{
		name: "an undercoat is dry when it is sprayed", by: "account", years: 1, file: "services/floor/assess_seam.go",
		old: "dry := u.late.Add(minutes(u.dryMin)); u.dryMin > 0", new: "dry := u.late; u.dryMin > 0",
	},
	{
		name: "a lot is out of date by when it is looked at", by: "account", years: 1, file: "services/floor/assess_seam.go",
		old: "!lot.Expires.IsZero() && c.f.lay.ended.After(lot.Expires)", new: "!lot.Expires.IsZero() && c.a.ev.Received.After(lot.Expires)",
	},
	{
		name: "what was laid since a weight may be in the cartridge", by: "account", years: 1, file: "services/floor/weight.go",
		old: "most: c.Remaining, off:", new: "most: c.known.ul, off:",
	},
	{
		name: "a nozzle that may have gelled is good", by: "account", years: 1, file: "services/floor/assess_nozzle.go",
		old: "verdict: v}, v.Reached != cure.No", new: "verdict: v}, v.Reached == cure.Yes",
	},
	{
		name: "tooled late is judged by the claimed time", by: "account", years: 1, file: "services/floor/assess_seam.go",
		old: "if v := cure.JudgeHindsight(r.where, r.clock, c.f.late); v.Reached != cure.No {\n		c.add(\"tooled-late\"", new: "if v := cure.JudgeHindsight(r.where, r.clock, c.f.late); v.Reached == cure.Yes {\n		c.add(\"tooled-late\"",
	},
	{
		name: "a purge before the nozzle was changed counts", by: "account", years: 1, file: "services/floor/cartridge.go",
		old: "c.Nozzle, c.Purged, c.LastFlow, c.FittedSeq, c.Stored = n, false, Flow{}, seq, false", new: "c.Nozzle, c.LastFlow, c.FittedSeq, c.Stored = n, Flow{}, seq, false",
	},
}

var gateSlips = []slip{
	{
		name: "a stale reading does not hold", by: "I3", years: 1, file: "services/floor/gate.go",
		old: "	case !a.Fresh:\n", new: "	case !a.Fresh && a.Jumped:\n",
	},
	{
		name: "an implausible reading does not hold", by: "I3", years: 1, file: "services/floor/gate.go",
		old: "	case a.Jumped:\n", new: "	case a.Jumped && !a.Fresh:\n",
	},
	{
		name: "another load's permit does not hold", by: "I5", years: 1, file: "services/floor/gate.go",
		old: "p != nil && p.ID != g.live.Holding {", new: "p != nil && p.ID != g.live.Holding && p.Load == l.ID {",
	},
	{
		name: "a terminal may be silent for twice as long", by: "I1", years: 1, file: "services/floor/gate_seam.go",
		old: "if g.at.Sub(heard) > within {", new: "if g.at.Sub(heard) > 2*within {",
	},
	{
		name: "just as silent as it may be holds", by: "account", years: 1, file: "services/floor/gate_seam.go",
		old: "if g.at.Sub(heard) > within {", new: "if g.at.Sub(heard) >= within {",
	},
	{
		name: "a stop that is answered with an order is no stop", by: "I1", years: 1, file: "services/floor/gate_seam.go",
		old: "if f.Severity == spec.Stop && f.Open() {", new: "if f.Severity == spec.Stop && f.Open() && f.Answer == 0 {",
	},
	{
		name: "a coat may end a moment after the booth closes", by: "I1", years: 1, file: "services/floor/job.go",
		old: "if !from.Before(h.From) && !to.After(h.To) {", new: "if !from.Before(h.From) && from.Before(h.To) {",
	},
	{
		name: "a coat that ends with the hours is too late", by: "account", years: 1, file: "services/floor/job.go",
		old: "if !from.Before(h.From) && !to.After(h.To) {", new: "if !from.Before(h.From) && to.Before(h.To) {",
	},
	{
		name: "a permit has no end", by: "I5", years: 1, file: "services/booth/keep.go",
		old: "	case latest(now, f.Last()).After(p.StartBy):\n", new: "	case p.StartBy.IsZero():\n",
	},
	{
		name: "one ground that fell away is let be", by: "I6", years: 1, file: "services/booth/keep.go", quick: true,
		old: "if g.lose(p.ID, lost); len(lost) > 0 {", new: "if g.lose(p.ID, lost); len(lost) > 1 {",
	},
}

var keeperSlips = []slip{
	{
		name: "nothing that was announced is looked at again", by: "I9", years: 1, file: "services/cures/keeper.go",
		old: "if !ok || r.Said == 0 || cure.Answer(r.Path, r.Clock, now) == cure.Yes {", new: "if !ok || r.Said == 0 || cure.Answer(r.Path, r.Clock, now) != cure.No {",
	},
	{
		name: "an end of a clock that could not be written is forgotten", by: "I9", years: 1, file: "services/cures/announce.go",
		old: "	case err != nil:\n		return err\n	case early:", new: "	case err != nil:\n		delete(k.due, w.slot)\n		return err\n	case early:",
	},
}

var stockSlips = []slip{
	{
		name: "a weight corrects nothing that was told as planned", by: "I11", years: 1, file: "services/floor/uses.go",
		old: "	if planned == 0 {\n		return 0\n	}\n	gone = max(gone, -planned)", new: "	if planned > 0 {\n		return 0\n	}\n	gone = max(gone, -planned)",
	},
	{
		name: "a weight that cannot be corrects all the same", by: "I11", years: 1, file: "services/floor/weight.go",
		old: "		c.surpluses[f.seq] = over\n		return\n", new: "		c.surpluses[f.seq] = over\n",
	},
	{
		name: "what fills a nozzle stays in the cartridge", by: "I11", years: 1, file: "services/floor/waste.go",
		old: "	if c.holdUp != nil {\n		c.spend(*c.holdUp)\n	}\n", new: "",
	},
	{
		name: "a recall holds what was taken off and delivered", by: "I11", years: 1, file: "services/floor/trace.go",
		old: "t.Finding.Open() && t.Removed.IsZero() && t.Job == JobOpen", new: "t.Finding.Open()",
	},
	{
		name: "a trace shows planned volumes as they were told", by: "I11", years: 1, file: "services/floor/uses.go",
		old: "		u.Volume = c.volumeOf(f)\n", new: "		u.Volume = f.lay.volume\n",
	},
	{
		name: "a lot that was taken back counts as stock", by: "I11", years: 1, file: "services/materials/stock.go",
		old: "if l.Product != id || l.Recalled || l.Shelf <= 0 {", new: "if l.Product != id || l.Shelf <= 0 {",
	},
	{
		name: "the time until a delivery is taken in days", by: "stock", years: 1, file: "services/materials/stock.go",
		old: "Mean: p.LeadTime.Hours() / week.Hours()", new: "Mean: p.LeadTime.Hours() / day.Hours()",
	},
	{
		name: "what is thrown away counts as no use", by: "stock", years: 1, file: "services/floor/drawn.go",
		old: "		if c.Discarded > 0 {", new: "		if c.Discarded < 0 {",
	},
}

var journalSlips = []slip{
	{
		name: "what is new and what was told before mixed up", by: "stops", years: 1, file: "services/record/record.go",
		old: "return d.receipt(ctx, seq, !stored, c.Body)", new: "return d.receipt(ctx, seq, stored, c.Body)",
	},
	{
		name: "an event is folded twice", by: "stops", years: 1, file: "services/journal/follower.go",
		old: "	if r.Seq <= at {\n		return nil\n	}\n	if r.Seq != at+1 {", new: "	if r.Seq > at+1 {",
	},
}
