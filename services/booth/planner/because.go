package planner

import (
	"fmt"
	"slices"
	"strings"

	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
)

// because says why a load stands otherwise than in a plan before, as far as
// the two plans show it: what has come upon it meanwhile, else what holds it
// where it stands now.
func because(was, is *boothv1.Plan, o, l *boothv1.PlannedLoad, now hours) string {
	for _, say := range []func() string{
		func() string { return boothTurned(was, is, o, l) },
		func() string { return carMoved(was, is, l) },
		func() string { return cameUpon(was, is, o, l) },
		func() string { return notBegun(was, is, o, l, now) },
	} {
		if l.GetBegun() || l.GetPermitted() || o == nil {
			break
		}
		if why := say(); why != "" {
			return why
		}
	}
	why, _, _ := strings.Cut(strings.TrimPrefix(l.GetWhy(), "no place: "), "; ") // not what slack it has
	return why
}

// carMoved: its work is another bay's now.
func carMoved(was, is *boothv1.Plan, l *boothv1.PlannedLoad) string {
	for _, what := range []string{Lay, Scuff} {
		before := worksOf(was, l, what)
		for _, w := range worksOf(is, l, what) {
			if x := ofSeam(before, w.GetSeamId()); x != nil && x.GetZoneId() != w.GetZoneId() {
				if w.GetZoneId() == "" {
					return "its car is in no bay that is known"
				}
				return "its car is in " + w.GetZoneId() + " now"
			}
		}
	}
	return ""
}

// boothOf is what a plan knows of a booth; nil: nothing.
func boothOf(p *boothv1.Plan, id string) *boothv1.PlannedBooth {
	for _, b := range p.GetBooths() {
		if b.GetBoothId() == id {
			return b
		}
	}
	return nil
}

// boothTurned: the booth that a load stood in is out of use, or the one that
// it stands in is in use again or has its gun set up to something else.
func boothTurned(was, is *boothv1.Plan, o, l *boothv1.PlannedLoad) string {
	if f := boothOf(is, o.GetBoothId()).GetFault(); f != "" && boothOf(was, o.GetBoothId()).GetFault() == "" {
		return BoothNews(boothOf(was, o.GetBoothId()), boothOf(is, o.GetBoothId()))
	}
	then, there := boothOf(was, l.GetBoothId()), boothOf(is, l.GetBoothId())
	if then == nil || there == nil || there.GetFault() == "" && then.GetFault() == "" && there.GetSetUpTo() == l.GetColour() {
		return ""
	}
	return BoothNews(then, there)
}

// BoothNews is what has become of a booth between two plans; empty: nothing.
func BoothNews(was, is *boothv1.PlannedBooth) string {
	switch {
	case is.GetFault() != "" && is.GetFault() != was.GetFault():
		return fmt.Sprintf("%s is out of use (%s)", is.GetBoothId(), is.GetFault())
	case is.GetFault() == "" && was.GetFault() != "":
		return is.GetBoothId() + " is in use again"
	case is.GetSetUpTo() != "" && is.GetSetUpTo() != was.GetSetUpTo():
		return fmt.Sprintf("the gun of %s is set up to %s", is.GetBoothId(), is.GetSetUpTo())
	}
	return ""
}

// done is a work when it is.
var done = map[string]string{Lay: "laid", Scuff: "scuffed"}

// cameUpon is work that there was not for a load before, else what it waits
// for and did not.
func cameUpon(was, is *boothv1.Plan, o, l *boothv1.PlannedLoad) string {
	for _, what := range []string{Lay, Scuff} {
		var names []string
		for _, w := range worksOf(is, l, what) {
			if ofSeam(worksOf(was, l, what), w.GetSeamId()) == nil {
				names = append(names, lower(w.GetName()))
			}
		}
		if len(names) > 0 {
			return several(names) + " to be " + done[what] + " now"
		}
	}
	for _, w := range l.GetWaitsFor() {
		work := strings.HasPrefix(w, Lay+" ") || strings.HasPrefix(w, Scuff+" ")
		if !work && !slices.Contains(o.GetWaitsFor(), w) {
			return strings.TrimSuffix(lower(w), ".")
		}
	}
	return ""
}

// notBegun is what the plan before had begun by now and nobody has: work that
// the load waits for, its setup, or the load itself. Each plan has it begin now,
// and so the load moves on with the time of day.
func notBegun(was, is *boothv1.Plan, o, l *boothv1.PlannedLoad, now hours) string {
	at := is.GetNow().AsTime()
	past := func(t *timestamppb.Timestamp) bool { return t != nil && t.AsTime().Before(at) }
	if !l.GetStart().AsTime().After(o.GetStart().AsTime()) || o.GetBoothId() != l.GetBoothId() {
		return ""
	}
	for _, what := range []string{Lay, Scuff} {
		for _, w := range worksOf(is, l, what) {
			x := ofSeam(worksOf(was, l, what), w.GetSeamId())
			if w.GetStart() == nil || !past(x.GetStart()) || !strings.Contains(l.GetWhy(), lower(w.GetName())) {
				continue // it is other work that it waits for
			}
			return fmt.Sprintf("%s was to be begun by %s and is not %s", lower(w.GetName()), now.moment(x.GetStart().AsTime()), done[what])
		}
	}
	setup := o.GetSetupStart().AsTime().Before(o.GetStart().AsTime())
	switch {
	case past(o.GetStart()):
		return fmt.Sprintf("it could start at %s and has not been started", now.moment(o.GetStart().AsTime()))
	case setup && past(o.GetSetupStart()) && boothOf(is, l.GetBoothId()).GetSetUpTo() == "":
		return fmt.Sprintf("its setup was to be begun by %s, and nobody has told that it was", now.moment(o.GetSetupStart().AsTime()))
	}
	return ""
}

// ofSeam is the work on a seam among others; nil: there is none.
func ofSeam(works []*boothv1.LayBy, seam string) *boothv1.LayBy {
	for _, w := range works {
		if w.GetSeamId() == seam {
			return w
		}
	}
	return nil
}

// worksOf is what of a kind is to be done for a load.
func worksOf(p *boothv1.Plan, l *boothv1.PlannedLoad, what string) (out []*boothv1.LayBy) {
	for _, w := range p.GetLayBy() {
		if w.GetLoadId() == l.GetLoadId() && w.GetWhat() == what {
			out = append(out, w)
		}
	}
	return out
}

// several are names as the subject of a sentence, with its verb.
func several(names []string) string {
	switch n := len(names); {
	case n == 1:
		return names[0] + " is"
	case n == 2:
		return names[0] + " and " + names[1] + " are"
	default:
		return fmt.Sprintf("%s and %d other seams are", names[0], n-1)
	}
}
