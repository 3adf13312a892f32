package planner

import (
	"fmt"
	"slices"
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
	for i, s := range all {
		if err := d.suppose(f, fmt.Sprintf("suppose[%d]", i), s); err != nil {
			return err
		}
	}
	return nil
}

func (d *Draft) suppose(f *floor.Floor, field string, s *boothv1.Supposition) error {
	switch w := s.GetWhat().(type) {
	case *boothv1.Supposition_SeamWaits_:
		return d.seamWaits(w.SeamWaits)
	case *boothv1.Supposition_BoothClosed_:
		return d.boothClosed(field, w.BoothClosed)
	case *boothv1.Supposition_BoothOpen_:
		return d.boothOpen(field, w.BoothOpen)
	case *boothv1.Supposition_DueMoved_:
		return d.dueMoved(w.DueMoved)
	case *boothv1.Supposition_LoadPlaced_:
		return d.loadPlaced(f, field, w.LoadPlaced)
	}
	return fault.Bad(field, "nothing", "a seam that waits, a booth closed or open, a load due or placed otherwise")
}

func (d *Draft) seamWaits(w *boothv1.Supposition_SeamWaits) error {
	found := false
	for i := range d.Works {
		if string(d.Works[i].Seam) == w.GetSeamId() {
			d.Problem.Tasks[i].Release, found = upTo(w.GetUntil().AsTime()), true
		}
	}
	if !found {
		return fault.Missing("seam", w.GetSeamId(), "name one that the plan still has to be laid or scuffed for a load")
	}
	return nil
}

func (d *Draft) booth(id string) (*plan.Booth, error) {
	for i := range d.Problem.Booths {
		if d.Problem.Booths[i].ID == id {
			return &d.Problem.Booths[i], nil
		}
	}
	return nil, fault.Missing("booth", id, "name one of this shop's")
}

func (d *Draft) boothClosed(field string, w *boothv1.Supposition_BoothClosed) error {
	b, err := d.booth(w.GetBoothId())
	if err != nil {
		return err
	}
	cut := plan.Interval{From: d.Problem.Start, To: w.GetTo().AsTime()}
	if w.GetFrom() != nil {
		cut.From = latest(cut.From, downTo(w.GetFrom().AsTime()))
	}
	if w.GetTo() == nil {
		cut.To = cut.From.UTC().Truncate(24 * time.Hour).Add(24 * time.Hour)
	}
	if !cut.From.Before(cut.To) {
		return fault.Bad(field+".booth_closed.to", cut.To.UTC().Format(time.RFC3339), "after "+cut.From.UTC().Format(time.RFC3339)+", when it begins, and not past")
	}
	b.Open = without(b.Open, plan.Interval{From: cut.From, To: upTo(cut.To)})
	return nil
}

func (d *Draft) boothOpen(field string, w *boothv1.Supposition_BoothOpen) error {
	b, err := d.booth(w.GetBoothId())
	if err != nil {
		return err
	}
	more := plan.Interval{From: d.Problem.Start, To: downTo(w.GetTo().AsTime())}
	if w.GetFrom() != nil {
		more.From = latest(more.From, upTo(w.GetFrom().AsTime()))
	}
	if !more.From.Before(more.To) {
		return fault.Bad(field+".booth_open.to", w.GetTo().AsTime().UTC().Format(time.RFC3339), "after "+more.From.UTC().Format(time.RFC3339)+", when it begins, and not past")
	}
	b.Open = joined(append(slices.Clone(b.Open), more))
	return nil
}

func (d *Draft) find(id string) (int, error) {
	for i := range d.Loads {
		if string(d.Loads[i].ID) == id {
			return i, nil
		}
	}
	return 0, fault.Missing("load", id, "name one that is not sprayed yet")
}

func (d *Draft) dueMoved(w *boothv1.Supposition_DueMoved) error {
	i, err := d.find(w.GetLoadId())
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

func (d *Draft) loadPlaced(f *floor.Floor, field string, w *boothv1.Supposition_LoadPlaced) error {
	i, err := d.find(w.GetLoadId())
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
	if start.Before(d.Problem.Start) {
		return fault.Bad(field+".load_placed.start", start.UTC().Format(time.RFC3339), "not before "+d.Problem.Start.UTC().Format(time.RFC3339))
	}
	for k := range d.Problem.Loads {
		o := d.Problem.Loads[k]
		if k == i || o.Frozen == nil || o.Frozen.Booth != booth {
			continue
		}
		if end := o.Frozen.Start.Add(o.Process); start.Before(end) && o.Frozen.Start.Before(start.Add(p.Process)) {
			return fault.Bad(field+".load_placed.start", start.UTC().Format(time.RFC3339),
				fmt.Sprintf("clear of load %s, which is in %s from %s to %s", o.ID, booth, clock(o.Frozen.Start), clock(end)))
		}
	}
	p.Booths, p.Frozen = []string{booth}, &plan.Frozen{Booth: booth, Start: start}
	return nil
}
