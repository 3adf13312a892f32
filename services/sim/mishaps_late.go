package sim

import (
	"fmt"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

// late: the terminal was without Wi-Fi; it tells the bead and the tooling in
// one go when it is back, with their measured ages.
func (w *work) late(m *seam) bool {
	s := w.s
	s.prep(w.t, m)
	s.mute[w.t.terminal] = true
	away := s.minutes(9, 16)
	s.planted("late-fact", m.id)
	s.lay(w.p, w.t, w.cart, w.pass(m, false), telling{age: measured(away)})
	s.mute[w.t.terminal] = false
	if technique(m) != floorv1.Technique_TECHNIQUE_DIRECT_BEAD {
		s.tool(w.t, m, "tape pulled", measured(away-45*time.Second))
	}
	s.unfit(w.t, w.cart)
	return true
}

// lapsing: the lot's date passes while the terminal is without Wi-Fi. What was
// laid before it and told after it is good.
func (w *work) lapsing(m *seam) bool {
	s := w.s
	pr := w.cart.lot.product
	w.end()
	lot := s.receive(pr, 1, s.now.Add(25*time.Minute))
	w.cart = s.openCartridge(w.p, w.t, lot, true)
	s.fit(w.p, w.t, w.cart, true)
	s.prep(w.t, m)
	x := w.pass(m, false)
	left := lot.expires.Sub(s.now) - x.gap - x.lasted
	if left < time.Minute { // opening it took too long
		s.discard(w.t, w.cart)
		w.cart = nil
		w.ready(m, volume(m))
		w.layers(m, telling{age: live})
		w.finish(m)
		return true
	}
	away := left + s.minutes(2, 6)
	s.planted("lot-lapses-offline", m.id)
	s.mute[w.t.terminal] = true
	s.lay(w.p, w.t, w.cart, x, telling{age: measured(away)})
	s.mute[w.t.terminal] = false
	if technique(m) != floorv1.Technique_TECHNIQUE_DIRECT_BEAD {
		s.tool(w.t, m, "tape pulled", measured(away-45*time.Second))
	}
	s.unfit(w.t, w.cart)
	s.discard(w.t, w.cart)
	w.cart = nil
	return true
}

// outOfOrder: the tooling arrives before the bead that it was done to. It does
// not fit, until the bead is told and it does.
func (w *work) outOfOrder(m *seam) bool {
	s := w.s
	s.prep(w.t, m)
	x := w.pass(m, false)
	away := s.minutes(5, 8)
	w.p.wait(x.gap + x.lasted)
	ended := s.now
	s.mute[w.t.terminal] = true
	w.p.wait(away)
	s.mute[w.t.terminal] = false
	s.planted("late-out-of-order", m.id)
	tooled := s.tell(w.t.person, w.t.terminal, measured(away-time.Minute), &jobsv1.BeadTooled{SeamId: m.id, How: "tape pulled"},
		due{rule: "stage-misfit", subject: m.subject(), severity: query})
	w.p.wait(5 * time.Second)
	s.layPast(w.t, w.cart, x, ended)
	s.acc.lapseRule("stage-misfit", tooled)
	s.unfit(w.t, w.cart)
	return true
}

// skewed: the terminal's clock went wrong while it was without Wi-Fi. When the
// bead was laid is known to an interval only, unless it went wrong by no more
// than two seconds.
func (w *work) skewed(m *seam) bool {
	s := w.s
	s.prep(w.t, m)
	x := w.pass(m, false)
	w.p.wait(x.gap + x.lasted)
	ended := s.now
	s.mute[w.t.terminal] = true
	w.p.wait(s.minutes(5, 8))
	s.mute[w.t.terminal] = false
	s.planted("wrong-clock", m.id)
	a := measured(s.now.Sub(ended))
	off := []time.Duration{0, 0, 30 * time.Second, 50 * time.Second, 3 * time.Minute}[s.stumble.IntN(5)]
	if off > time.Minute {
		s.planted("suspended-tablet", m.id) // it slept for a part of the time
	}
	a.skew = max(off, 2*time.Second)
	begun := ended.Add(-x.lasted)
	body := &jobsv1.BeadLaid{
		SeamId: m.id, CartridgeId: w.cart.id, NozzleId: w.cart.nozzle, Layer: layerOf(x.bed),
		VolumeMl: x.told(), Lasted: durationpb.New(x.lasted),
	}
	found := append(s.layDue(w.t, w.cart, x, begun, begun.Add(off)), w.cart.draw(x, ended)...)
	seq := s.tell(w.t.person, w.t.terminal, a, body, found...)
	s.laid(w.t, w.cart, x, seq, begun.Add(-off), ended, ended.Add(off))
	s.unfit(w.t, w.cart)
	return true
}

func (w *work) claimed(m *seam) bool {
	w.s.prep(w.t, m)
	w.s.planted("claimed-age", m.id)
	w.layers(m, telling{age: claimed(w.s.minutes(1, 1.4))})
	w.finish(m)
	return true
}

// signed: the foreman signs for the age of what a technician tells late.
func (w *work) signed(m *seam) bool {
	s := w.s
	s.prep(w.t, m)
	s.planted("signed-age", m.id)
	x := w.pass(m, false)
	w.p.wait(x.gap + x.lasted)
	ended := s.now
	w.p.wait(s.minutes(6, 12))
	was := w.t.person
	w.t.person = foreman
	s.layPastAs(w.t, w.cart, x, ended, signed(s.now.Sub(ended)))
	w.t.person = was
	s.unfit(w.t, w.cart)
	return true
}

// offline: the bay's tablet has no Wi-Fi when the bead is laid, and lies in a
// drawer for days, a month at most. What it tells when it is found counts from
// the moment at which it happened; until then the seam is bare for all that
// anybody knows.
func (w *work) offline(m *seam) bool {
	s, c := w.s, w.cart
	s.prep(w.t, m)
	x := w.pass(m, false)
	w.p.wait(x.gap + x.lasted)
	ended, flow := s.now, c.flow
	away := s.days(0.6, 4)
	if s.stumble.IntN(4) == 0 {
		away = s.days(4, 30)
	}
	s.planted("tablet-offline-for-days", fmt.Sprintf("%s, %.1f days", m.id, away.Hours()/24))
	w.p.wait(30 * time.Second)
	nozzle := c.nozzle
	s.unfit(w.t, c)
	c.bay, m.untold, w.cart = "", true, nil // nobody takes it: what is left in it is not known
	s.untold++
	s.spawn("tablet of "+m.id, s.now.Add(away), func(p *proc) {
		p.poll(time.Minute, func() bool { return !s.permitRuns() && !s.silent })
		s.settle()
		s.catchUp()
		m.untold = false
		s.untold--
		now := *c
		c.nozzle, c.purged, c.flow = nozzle, true, flow
		s.layPast(w.t, c, x, ended)
		c.nozzle, c.purged, c.flow, c.bay = now.nozzle, now.purged, now.flow, w.t.zone
	})
	return true
}

// lateMoves lets somebody tell too late that a car stood in the yard for half
// an hour: what its beads were said to have reached meanwhile, they may not
// have.
func (s *sim) lateMoves(p *proc) {
	const out, back = 45 * time.Minute, 15 * time.Minute
	for s.sharp() && s.airs["outdoors"] != nil {
		p.wait(s.days(2, 8))
		var j *job
		p.poll(17*time.Minute, func() bool {
			j = s.leftAlone(out + 5*time.Minute)
			return j != nil
		})
		s.planted("move-told-late", j.ro)
		s.settle()
		s.catchUp() // what was announced until now is judged by what was known until now
		for _, m := range []struct {
			zone string
			ago  time.Duration
		}{{"outdoors", out}, {j.bay, back}} {
			s.tell(foreman, desk, signed(m.ago), &jobsv1.CarMoved{Ro: j.ro, ZoneId: m.zone})
			j.course.to(s.now.Add(-m.ago), s.airs[m.zone])
		}
		s.settle()
		s.catchUp()
		p.wait(time.Second)
		s.settle() // somebody may have told something in this second
		s.catchUp()
		s.lostClocks()
	}
}

// leftAlone is a car in its bay whose beads cure, to which nobody has done
// anything for a while, and that no booth has seen; nil: there is none.
func (s *sim) leftAlone(since time.Duration) *job {
	if s.permitRuns() || s.silent || !s.hours.in(s.now, 0, shiftBegins, shiftEnds) {
		return nil
	}
next:
	for _, j := range s.inShop {
		moves := j.course.moves
		if !j.sealed || j.hands > 0 || j.at != s.airs[j.bay] || moves[len(moves)-1].at.After(s.now.Add(-since)) {
			continue
		}
		for _, m := range j.seams {
			if b := m.bead; b == nil || m.untold || m.coated || m.waxed || b.scuffed.After(s.now.Add(-since)) || b.ready.After(s.now.Add(-since)) {
				continue next
			}
		}
		for _, l := range j.loads {
			if l.sprayed {
				continue next
			}
		}
		return j
	}
	return nil
}
