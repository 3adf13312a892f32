package sim

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
)

// sheet is the booth service's plan as the people of the shop see it: they
// know nothing but what it tells.
type sheet struct {
	number uint64
	loads  map[string]*boothv1.PlannedLoad
	bays   map[string]int       // place of a job's first work on the list of what must be laid by when
	begins map[string]time.Time // when the plan has a job's first bead laid
	sprays map[string]time.Time // when it has the load begun that waits for it
}

// readPlan lets whoever decides now look at the plan as it stands, which has
// seen all that was told if it is to be fresh.
func (s *sim) readPlan(fresh bool) {
	if s.opt.Policy != Planned || s.err != nil {
		return
	}
	req := &boothv1.GetPlanRequest{}
	if fresh && s.led.last != nil {
		req.MinSequence = max(s.led.last.seq, s.watch.seq)
	}
	resp, err := s.opt.Booth.GetPlan(s.ctx, req)
	if err != nil {
		s.fail(fmt.Errorf("the booth's plan: %w", err))
		return
	}
	if p := resp.GetPlan(); p.GetNumber() != s.sheet.number || s.sheet.loads == nil {
		s.sheet = sheetOf(p)
	}
}

func sheetOf(p *boothv1.Plan) sheet {
	out := sheet{p.GetNumber(), map[string]*boothv1.PlannedLoad{}, map[string]int{}, map[string]time.Time{}, map[string]time.Time{}}
	for _, l := range p.GetLoads() {
		out.loads[l.GetLoadId()] = l
	}
	for i, w := range p.GetLayBy() {
		ro, _, _ := cutSeam(w.GetSeamId())
		if _, known := out.bays[ro]; !known {
			out.bays[ro] = i + 1
		}
		if at := w.GetStart(); at != nil && w.GetWhat() == "lay" {
			if first, known := out.begins[ro]; !known || at.AsTime().Before(first) {
				out.begins[ro], out.sprays[ro] = at.AsTime(), w.GetLoadStart().AsTime()
			}
		}
	}
	return out
}

// last puts what the plan does not list behind what it lists.
func last(place int) int {
	if place == 0 {
		return 1 << 30
	}
	return place
}

// rank is the order of two loads of a booth.
func (h sheet) rank(x, y *load) int {
	return cmp.Compare(last(int(h.loads[x.id].GetOrder())), last(int(h.loads[y.id].GetOrder())))
}

// bay is the order of two cars of a bay: by what must be laid on them first.
func (h sheet) bay(x, y *job) int { return cmp.Compare(last(h.bays[x.ro]), last(h.bays[y.ro])) }

// overdue is how long a load that should begin and is not clear keeps its
// booth from the others; what is planned within soon should begin.
const (
	overdue = 10 * time.Minute
	soon    = 5 * time.Minute
)

// keptFree reports whether the plan keeps a booth for a load that is to go
// before another one that is clear.
func (s *sim) keptFree(b *booth, l *load) bool {
	if s.opt.Policy != Planned {
		return false
	}
	mine := last(int(s.sheet.loads[l.id].GetOrder()))
	kept := false
	for _, o := range s.sheet.loads {
		if o.GetBoothId() == b.id && o.GetOrder() > 0 && int(o.GetOrder()) < mine && s.awaited(l, o) {
			kept = true
		}
	}
	return kept
}

// awaited reports whether a booth stays free for a planned load though another
// one is clear: that would not be out before, and the planned one has not kept
// the booth for too long already.
func (s *sim) awaited(l *load, o *boothv1.PlannedLoad) bool {
	x, start := s.loads[o.GetLoadId()], o.GetStart().AsTime()
	switch {
	case x == nil:
		return false
	case start.After(s.now.Add(soon)):
		x.heldUp = time.Time{}
	case x.heldUp.IsZero():
		x.heldUp = s.now
	}
	if !x.heldUp.IsZero() && !s.now.Before(x.heldUp.Add(overdue)) {
		return false
	}
	return s.now.Add(s.change(l) + s.occupies(l) + l.booth.setup(l.colour, x.colour)).After(start)
}

// setUpNow reports whether the plan has the colour changed for a load by now,
// or, at the end of the day, before the next one begins.
func (s *sim) setUpNow(b *booth, l *load) bool {
	if s.opt.Policy != Planned {
		return true
	}
	p := s.sheet.loads[l.id]
	switch {
	case p.GetBoothId() != b.id || p.GetStart() == nil:
		return false
	case !p.GetSetupStart().AsTime().After(s.now):
		return true
	}
	tomorrow := s.hours.on(s.now, 1, 0)
	return !p.GetStart().AsTime().Before(tomorrow) && !s.hours.in(s.now, beforeClosing, b.opens, b.closes)
}

// beforeClosing is when a painter looks what comes first on the next day.
const beforeClosing = 15 * time.Minute

// listed lets a car wait whose beads the plan has laid on another day, or for a
// load that begins after noon of the next working day: laid now, their windows
// would close before the booth takes it, or might if anything comes between.
func (s *sim) listed(p *proc, j *job) {
	if s.opt.Policy != Planned || !slices.ContainsFunc(j.loads, func(l *load) bool { return !l.sprayed }) {
		return
	}
	s.readPlan(true) // what is laid on the seams may have been settled only now
	p.poll(10*time.Minute, func() bool {
		s.readPlan(false)
		at, known := s.sheet.begins[j.ro]
		noon := s.hours.on(s.hours.next(s.hours.on(s.now, 1, 0), 0, shiftBegins, shiftEnds), 0, 12*time.Hour)
		return !known || at.Before(s.hours.on(s.now, 1, 0)) && s.sheet.sprays[j.ro].Before(noon)
	})
}
