package planner

import (
	"cmp"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/calc/plan"
	"seamwright/services/floor"
)

// keeps are the words of what is kept.
var keeps = map[floor.Keep]boothv1.Keep{
	floor.KeepNothing: boothv1.Keep_KEEP_NOTHING, floor.KeepBooth: boothv1.Keep_KEEP_BOOTH, floor.KeepStart: boothv1.Keep_KEEP_START,
}

// Tell puts a plan into the shop's words, with hours in its own time zone. The
// journal's texts are in UTC: see Moves.
func (d *Draft) Tell(p plan.Plan) *boothv1.Plan {
	utc := speech{d, hours{time.UTC, d.At}}.tell(p)
	d.journal = map[floor.LoadID]string{}
	for _, l := range utc.GetLoads() {
		d.journal[floor.LoadID(l.GetLoadId())] = l.GetWhy()
	}
	name := ZoneName(d.Zone, d.At)
	if name == "" {
		return utc
	}
	out := speech{d, d.local()}.tell(p)
	out.TimeZone = name
	return out
}

// cost is what a plan costs the shop: the weighted minutes that its cars are
// late, each by the last of its loads, and what missed windows cost. What is
// only wanted soon is not late, and waiting is no cost.
func (d *Draft) cost(p *plan.Plan) float64 {
	sum, cars := 0.0, map[floor.RO]float64{}
	for _, l := range p.Loads {
		x, q := &d.Loads[l.Index], &d.Problem.Loads[l.Index]
		if l.Missed {
			sum += q.MissCost
		}
		if !x.Due.IsZero() {
			cars[x.RO] = max(cars[x.RO], q.Weight*l.LateMin)
		}
	}
	for _, ro := range slices.Sorted(maps.Keys(cars)) { // so that the same plan costs the same to the last digit
		sum += cars[ro]
	}
	return sum
}

func (d speech) tell(p plan.Plan) *boothv1.Plan {
	p = d.worded(p)
	out := &boothv1.Plan{Sequence: d.Seq, Now: timestamppb.New(d.At), Cost: d.cost(&p)}
	// What was searched for counts waiting as well, so its bounds say nothing
	// about this cost; that nothing is below nothing needs no search.
	out.Optimal = out.Cost == 0 && unplaced(&p) == 0
	at := map[int]plan.PlannedLoad{}
	for _, l := range p.Loads {
		at[l.Index] = l
	}
	order := map[string]uint32{}
	for _, l := range inOrder(p.Loads) {
		t := d.load(l)
		if l.Placed() && !t.GetBegun() {
			order[l.Booth]++
			t.Order = order[l.Booth]
		}
		out.Loads = append(out.Loads, t)
	}
	for _, b := range d.booths {
		out.Booths = append(out.Booths, &boothv1.PlannedBooth{BoothId: string(b.id), Fault: b.fault, SetUpTo: b.next})
	}
	out.LayBy = d.tellWorks(p, at)
	out.Bays = bays(out.LayBy)
	out.ShiftEnd = d.shiftEnd(at)
	return out
}

// inOrder sorts by start, what has no place last.
func inOrder(ls []plan.PlannedLoad) []plan.PlannedLoad {
	out := slices.Clone(ls)
	slices.SortStableFunc(out, func(a, b plan.PlannedLoad) int {
		if a.Placed() != b.Placed() {
			if a.Placed() {
				return -1
			}
			return 1
		}
		return cmp.Or(a.Start.Compare(b.Start), cmp.Compare(a.ID, b.ID))
	})
	return out
}

func stamp(t time.Time) *timestamppb.Timestamp {
	if t.IsZero() {
		return nil
	}
	return timestamppb.New(t)
}

func (d speech) load(p plan.PlannedLoad) *boothv1.PlannedLoad {
	l, q := &d.Loads[p.Index], &d.Problem.Loads[p.Index]
	out := &boothv1.PlannedLoad{
		LoadId: string(l.ID), Ro: string(l.RO), Vehicle: l.Vehicle, Colour: l.Colour, BoothId: p.Booth,
		SetupStart: stamp(p.SetupStart), Start: stamp(p.Start), End: stamp(p.End), Release: stamp(latest(l.release, l.Opens)),
		LatestStart: stamp(l.Latest), Due: stamp(l.Due), Missed: p.Missed && p.Placed(), Keep: keeps[l.Keep], Begun: l.Begun,
		Permitted: l.Permitted, Why: p.Why, WaitsFor: slices.Clone(l.Waits), Weight: l.Weight,
	}
	if !l.Due.IsZero() {
		out.LateMin, out.SlackMin = p.LateMin, p.SlackMin
	}
	switch {
	case l.Begun:
		out.Why = d.stands(p, "in the booth until about "+d.moment(p.End))
	case l.Permitted && q.Frozen != nil:
		out.Why = d.stands(p, "its permit runs")
	case l.Permitted:
		out.Why = "its permit runs"
	case q.Frozen != nil:
		out.Why = d.stands(p, "put there by hand")
	case d.asTold && p.Placed():
		out.Why = d.stands(p, p.Why)
	case !p.Placed() && !d.asTold:
		out.Why = d.noPlace(q, out.Why)
	}
	out.Why = plain(out.Why)
	for i, w := range out.WaitsFor {
		out.WaitsFor[i] = d.floorWords(w)
	}
	if l.lost != "" {
		out.PermitLost = "taken back at " + d.moment(l.lostAt) + ": " + d.floorWords(l.lost)
		if strings.HasPrefix(l.lost, "given back") {
			out.PermitLost = l.lost + " at " + d.moment(l.lostAt)
		}
	}
	if !l.Taken.IsZero() {
		out.WaitsFor = append(out.WaitsFor, fmt.Sprintf("%s is taken at %s, where it was put by hand", l.Booth, d.moment(l.Taken)))
	}
	out.WaitsFor = append(out.WaitsFor, d.toDo(p.Index)...)
	return out
}

// floorWords marks words of the floor, which are in UTC.
func (d speech) floorWords(w string) string {
	if d.zone != time.UTC && hourForm.MatchString(w) {
		return strings.TrimSuffix(w, ".") + " (UTC)"
	}
	return w
}

var hourForm = regexp.MustCompile(`\b[0-2][0-9]:[0-5][0-9]\b`)

// toDo is what is to be laid and scuffed for a load, by name as long as it is
// little.
func (d *Draft) toDo(load int) (out []string) {
	for _, what := range []string{Lay, Scuff} {
		var names []string
		bare := 0
		for _, w := range d.Works {
			if w.Load != load || w.What != what {
				continue
			}
			names = append(names, lower(w.Name))
			if w.Unplanned {
				bare++
			}
		}
		switch n := len(names); {
		case n > 3:
			out = append(out, fmt.Sprintf("%s %d seams", what, n))
		case n > 0:
			out = append(out, what+" "+strings.Join(names, ", "))
		}
		if bare > 0 {
			out = append(out, map[bool]string{true: "1 seam is", false: fmt.Sprintf("%d seams are", bare)}[bare == 1]+" not planned yet")
		}
	}
	return out
}

// tellWorks are the tasks with their latest moments, the first first.
func (d speech) tellWorks(p plan.Plan, at map[int]plan.PlannedLoad) []*boothv1.LayBy {
	var out []*boothv1.LayBy
	for _, t := range p.Tasks {
		w, q := d.Works[t.Index], d.Problem.Tasks[t.Index]
		if d.Loads[w.Load].Begun {
			continue
		}
		o := &boothv1.LayBy{
			SeamId: string(w.Seam), Name: w.Name, LoadId: string(d.Loads[w.Load].ID), ZoneId: string(w.Zone), What: w.What,
			Minutes: q.Length.Minutes(), LoadStart: stamp(at[w.Load].Start),
		}
		by := time.Time{}
		if !t.Start.IsZero() && at[w.Load].Placed() {
			by = t.LatestStart.Add(q.Length)
			o.Start, o.BeginBy, o.DoneBy = stamp(t.Start), stamp(t.LatestStart), stamp(by)
		}
		o.Text = d.layBy(w, by, at[w.Load].Start)
		out = append(out, o)
	}
	slices.SortStableFunc(out, func(a, b *boothv1.LayBy) int {
		if (a.BeginBy == nil) != (b.BeginBy == nil) {
			if a.BeginBy != nil {
				return -1
			}
			return 1
		}
		return cmp.Or(a.GetBeginBy().AsTime().Compare(b.GetBeginBy().AsTime()), cmp.Compare(a.GetSeamId(), b.GetSeamId()))
	})
	return out
}

// bays are the works by bay, in their order.
func bays(works []*boothv1.LayBy) []*boothv1.BayList {
	of := map[string]*boothv1.BayList{}
	var out []*boothv1.BayList
	for i, w := range works {
		b := of[w.GetZoneId()]
		if b == nil {
			b = &boothv1.BayList{ZoneId: w.GetZoneId()}
			of[w.GetZoneId()], out = b, append(out, b)
		}
		b.LayBy = append(b.LayBy, uint32(i))
	}
	slices.SortFunc(out, func(a, b *boothv1.BayList) int { return cmp.Compare(a.GetZoneId(), b.GetZoneId()) })
	return out
}

// plain leaves a colour that nobody has told out of a sentence.
func plain(s string) string {
	none := colour("")
	return strings.NewReplacer(" from set up to ", " from a gun set up to ", ", the colour run "+none+" goes on", "", " to "+none, "").Replace(s)
}
