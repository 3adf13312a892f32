package planner

import (
	"fmt"
	"slices"
	"strings"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/calc/plan"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// Suppose changes the draft to what would be. A fault names what is not known
// or does not fit. The floor is the one that the draft was made of; it is read
// only.
func (d *Draft) Suppose(f *floor.Floor, all []*boothv1.Supposition) error {
	for _, s := range all {
		if err := d.suppose(f, s); err != nil {
			return err
		}
	}
	return nil
}

func (d *Draft) suppose(f *floor.Floor, s *boothv1.Supposition) error {
	switch w := s.GetWhat().(type) {
	case *boothv1.Supposition_SeamWaits_:
		return d.seamWaits(f, w.SeamWaits)
	case *boothv1.Supposition_BoothClosed_:
		return d.boothClosed(w.BoothClosed)
	case *boothv1.Supposition_BoothOpen_:
		return d.boothOpen(w.BoothOpen)
	case *boothv1.Supposition_DueMoved_:
		return d.dueMoved(f, w.DueMoved)
	case *boothv1.Supposition_LoadPlaced_:
		return d.loadPlaced(f, w.LoadPlaced)
	}
	return fault.Bad("question", "nothing", "a seam that waits, a booth closed or open, a load due or placed otherwise")
}

func (d *Draft) seamWaits(f *floor.Floor, w *boothv1.Supposition_SeamWaits) error {
	found := false
	for i := range d.Works {
		if string(d.Works[i].Seam) == w.GetSeamId() {
			d.Problem.Tasks[i].Release, found = upTo(w.GetUntil().AsTime()), true
		}
	}
	if found {
		return nil
	}
	if s := f.Seam(floor.SeamID(w.GetSeamId())); s != nil {
		return d.nothingToDo(s)
	}
	var left []string
	for _, x := range d.Works {
		left = append(left, string(x.Seam))
	}
	return fault.Missing("seam", w.GetSeamId(), some("to be laid or scuffed for a load are ", left, "nothing is to be laid or scuffed for a load"))
}

// nothingToDo says why a seam that the shop has is no work of the plan.
func (d *Draft) nothingToDo(s *floor.Seam) error {
	const next = "ask about a seam that is still to be laid or scuffed for a load"
	what := "is in no load that is to be sprayed"
	switch b := s.Bead; {
	case s.Coated() && !s.CoatedAt.IsZero():
		what = "was painted at " + d.local().moment(s.CoatedAt)
	case b != nil && b.Elsewhere:
		what = "was laid elsewhere"
	case b != nil && !b.Ended.IsZero():
		what = "was laid at " + d.local().moment(b.Ended)
		if b.By != "" {
			what += " by " + b.By
		}
	}
	return fault.New(fault.Refused, "seam-not-to-do", fmt.Sprintf("%s on %s %s", lower(s.Name()), s.Job, what), next)
}

// some lists what there is, or says that there is nothing.
func some(before string, ids []string, none string) string {
	const most = 12
	slices.Sort(ids)
	ids = slices.Compact(ids)
	switch n := len(ids); {
	case n == 0:
		return none
	case n > most:
		ids = append(ids[:most], fmt.Sprintf("%d more", n-most))
	}
	return before + strings.Join(ids, ", ")
}

func (d *Draft) booth(id string) (*plan.Booth, error) {
	var all []string
	for i := range d.Problem.Booths {
		if d.Problem.Booths[i].ID == id {
			return &d.Problem.Booths[i], nil
		}
		all = append(all, d.Problem.Booths[i].ID)
	}
	return nil, fault.Missing("booth", id, some("the shop has ", all, "the shop has none"))
}

// ends refuses a stretch of time that ends before it begins.
func (d *Draft) ends(what string, from, to time.Time) error {
	if from.Before(to) {
		return nil
	}
	h := d.local()
	return fault.Bad(what, "until "+h.moment(to), "a time after "+h.moment(from)+", when it begins, and not past")
}

func (d *Draft) boothClosed(w *boothv1.Supposition_BoothClosed) error {
	b, err := d.booth(w.GetBoothId())
	if err != nil {
		return err
	}
	cut := plan.Interval{From: d.Problem.Start, To: w.GetTo().AsTime()}
	if w.GetFrom() != nil {
		cut.From = latest(cut.From, downTo(w.GetFrom().AsTime()))
	}
	if w.GetTo() == nil {
		y, m, day := cut.From.In(d.local().zone).Date()
		cut.To = time.Date(y, m, day+1, 0, 0, 0, 0, d.local().zone)
	}
	if err := d.ends(b.ID+" closed", cut.From, cut.To); err != nil {
		return err
	}
	b.Open = without(b.Open, plan.Interval{From: cut.From, To: upTo(cut.To)})
	return nil
}

func (d *Draft) boothOpen(w *boothv1.Supposition_BoothOpen) error {
	b, err := d.booth(w.GetBoothId())
	if err != nil {
		return err
	}
	more := plan.Interval{From: d.Problem.Start, To: downTo(w.GetTo().AsTime())}
	if w.GetFrom() != nil {
		more.From = latest(more.From, upTo(w.GetFrom().AsTime()))
	}
	if err := d.ends(b.ID+" open", more.From, more.To); err != nil {
		return err
	}
	b.Open = joined(append(slices.Clone(b.Open), more))
	return nil
}

func (d *Draft) find(f *floor.Floor, id string) (int, error) {
	var all []string
	for i := range d.Loads {
		if string(d.Loads[i].ID) == id {
			return i, nil
		}
		all = append(all, string(d.Loads[i].ID))
	}
	if l := f.Load(floor.LoadID(id)); l != nil && !l.Sprayed.IsZero() {
		return 0, fault.New(fault.Refused, "load-sprayed", fmt.Sprintf("load %s was sprayed in %s at %s", id, l.Booth, d.local().moment(l.Sprayed)), "ask about one that is not sprayed yet")
	}
	return 0, fault.Missing("load", id, some("not sprayed yet are ", all, "no load is to be sprayed"))
}

func (d *Draft) dueMoved(f *floor.Floor, w *boothv1.Supposition_DueMoved) error {
	i, err := d.find(f, w.GetLoadId())
	if err != nil {
		return err
	}
	for k := range d.Loads { // a promise is the car's
		if d.Loads[k].RO == d.Loads[i].RO {
			d.Loads[k].Due, d.Problem.Loads[k].Due, d.Problem.Loads[k].Weight = w.GetDue().AsTime(), downTo(w.GetDue().AsTime()), d.Loads[k].Weight
		}
	}
	return nil
}

func (d *Draft) loadPlaced(f *floor.Floor, w *boothv1.Supposition_LoadPlaced) error {
	i, err := d.find(f, w.GetLoadId())
	if err != nil {
		return err
	}
	l, p := &d.Loads[i], &d.Problem.Loads[i]
	booth, start := w.GetBoothId(), downTo(w.GetStart().AsTime())
	if booth == "" {
		booth = string(l.Booth)
	}
	if _, err := d.booth(booth); err != nil {
		return err
	}
	if err := f.Placeable(f.Load(l.ID), floor.BoothID(booth)); err != nil {
		return err
	}
	h := d.local()
	if start.Before(d.Problem.Start) {
		return fault.Bad("start of "+string(l.ID), h.moment(start), "not before "+h.moment(d.Problem.Start)+", the shop's time")
	}
	if err := d.clear(i, booth, start); err != nil {
		return err
	}
	p.Booths, p.Frozen = []string{booth}, &plan.Frozen{Booth: booth, Start: start}
	return nil
}
