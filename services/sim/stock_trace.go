package sim

import (
	"fmt"

	materialsv1 "seamwright/proto/seamwright/materials/v1"
)

// use names one layer of a lot.
type use struct {
	seq  uint64
	seam string
}

// mostTraced is how many lots are followed at a time.
const mostTraced = 3

// traceSome follows some of the lots that something was laid of.
func (s *sim) traceSome() {
	var used []*lot
	for _, l := range s.stock {
		if l.laid > 0 {
			used = append(used, l)
		}
	}
	r := stream(s.opt.Seed, "trace "+clock(s.now))
	for range min(mostTraced, len(used)) {
		s.traced(used[r.IntN(len(used))])
	}
}

// traced asks where a lot went and compares it, layer by layer, with the
// account: every seam and job that it reached, what of it lies where, and what
// a recall holds.
func (s *sim) traced(l *lot) {
	if s.err != nil {
		return
	}
	resp, err := s.opt.Materials.TraceLot(s.ctx, &materialsv1.TraceLotRequest{LotId: l.id, MinSequence: s.led.last.seq})
	if err != nil {
		s.fail(fmt.Errorf("where lot %s went: %w", l.id, err))
		return
	}
	s.checks.count("traced")
	if got := resp.GetRecalled() != nil; got != l.recalled || got && !resp.GetRecalled().AsTime().Equal(l.recalledAt) {
		s.broken("I11", "lot %s: recalled %t at %s by its trace, it was %t at %s", l.id, got, clock(resp.GetRecalled().AsTime()), l.recalled, clock(l.recalledAt))
	}
	if int(resp.GetCartridges()) != l.received {
		s.broken("I11", "lot %s: %d cartridges came in by its trace, %d did", l.id, resp.GetCartridges(), l.received)
	}
	due := s.layersOf(l)
	for _, u := range resp.GetUses() {
		k := use{u.GetSequence(), u.GetSeamId()}
		w, ok := due[k]
		if !ok {
			s.broken("I11", "lot %s is said to have reached %s with event %d, it did not", l.id, k.seam, k.seq)
			continue
		}
		delete(due, k)
		s.tracedUse(l, w, u)
	}
	for _, c := range s.carts {
		for _, w := range c.layers {
			if due[use{w.seq, w.bead.seam.id}] == w {
				s.broken("I11", "lot %s reached %s with event %d, its trace does not say so", l.id, w.bead.seam.id, w.seq)
			}
		}
	}
}

// layersOf are all layers that were laid of a lot.
func (s *sim) layersOf(l *lot) map[use]*layer {
	out := map[use]*layer{}
	for _, c := range s.carts {
		if c.lot != l {
			continue
		}
		for _, w := range c.layers {
			out[use{w.seq, w.bead.seam.id}] = w
		}
	}
	return out
}

// tracedUse compares one layer.
func (s *sim) tracedUse(l *lot, w *layer, u *materialsv1.LotUse) {
	m := w.bead.seam
	lies := m.bead == w.bead
	held := lies && !m.job.delivered && s.acc.open(due{rule: "lot-recalled", subject: m.subject(), about: w.seq})
	state := "open"
	if m.job.delivered {
		state = "delivered"
	}
	switch {
	case (u.GetRemoved() == nil) != lies:
		s.broken("I11", "lot %s: the layer of event %d on %s lies there %t, its trace says %t", l.id, w.seq, m.id, lies, !lies)
	case u.GetRo() != m.job.ro || u.GetJobState() != state:
		s.broken("I11", "lot %s: event %d is of job %s, %s; its trace says %s, %s", l.id, w.seq, m.job.ro, state, u.GetRo(), u.GetJobState())
	case u.GetOnHold() != held:
		s.broken("I11", "lot %s: seam %s is held for event %d %t, its trace says %t", l.id, m.id, w.seq, held, u.GetOnHold())
	case u.GetBasis() != w.basis():
		s.broken("I11", "lot %s: the volume of event %d on %s is %s by its trace, it is %s", l.id, w.seq, m.id, word(u.GetBasis()), word(w.basis()))
	case ul(u.GetVolumeMl()) != w.volume || u.PlannedMl != nil && ul(u.GetPlannedMl()) != w.booked:
		s.broken("I11", "lot %s: %.3f ml lie on %s by event %d, its trace says %.3f", l.id, float64(w.volume)/1000, m.id, w.seq, u.GetVolumeMl())
	}
}

// basis is where a layer's volume comes from.
func (w *layer) basis() materialsv1.VolumeBasis {
	switch {
	case w.planned && w.bed:
		return materialsv1.VolumeBasis_VOLUME_BASIS_WITH_BEAD
	case w.planned && w.volume != w.booked:
		return materialsv1.VolumeBasis_VOLUME_BASIS_CORRECTED
	case w.planned:
		return materialsv1.VolumeBasis_VOLUME_BASIS_PLANNED
	}
	return materialsv1.VolumeBasis_VOLUME_BASIS_TOLD
}

// open reports whether a finding stands and is not answered.
func (a *account) open(d due) bool {
	f := a.findings[d.key()]
	return f != nil && f.open()
}
