package feed

import (
	"strings"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// planned are the loads where the booth plan has them, but for what the floor
// knows better by now; nil: there is no plan.
func (v *view) planned() *day {
	if !v.kept.GetPlanning() || len(v.kept.GetLoads()) == 0 {
		return nil
	}
	d := &day{slots: map[floor.LoadID]slot{}, lanes: map[floor.BoothID][]slot{}}
	for _, id := range v.f.Booths() {
		b := v.f.Booth(id)
		if l := v.f.Load(b.Loaded); l != nil {
			d.put(b, slot{load: l.ID, from: l.Sprayed, to: v.free(b), running: true})
		}
	}
	for _, p := range v.kept.GetLoads() {
		l, b := v.f.Load(floor.LoadID(p.GetLoadId())), v.f.Booth(floor.BoothID(p.GetBoothId()))
		if l == nil || b == nil || !l.Sprayed.IsZero() || p.GetBegun() {
			continue
		}
		d.put(b, slot{
			load: l.ID, from: p.GetStart().AsTime(), to: p.GetEnd().AsTime(), setup: p.GetStart().AsTime().Sub(p.GetSetupStart().AsTime()),
			missed: p.GetMissed(), why: p.GetWhy(),
		})
	}
	return d
}

// inPlan marks times in the plan's sentences where they are not in the time of
// these screens: the booth service may stand on a machine of another zone.
func (v *view) inPlan(text string) string {
	zone := v.kept.GetTimeZone()
	switch {
	case zone == "":
		return v.inUTC(text)
	case zone == v.now.Location().String(), zone == v.now.Format("-07:00"), !hourForm.MatchString(text):
		return text
	}
	return strings.TrimSuffix(text, ".") + " (times in " + zone + ")."
}

// due is what the plan has to be done on a seam before its load; nil: nothing.
func (v *view) due(id floor.SeamID) *boothv1.LayBy {
	if !v.kept.GetPlanning() {
		return nil
	}
	for _, w := range v.kept.GetLayBy() {
		if w.GetSeamId() == string(id) {
			return w
		}
	}
	return nil
}

// planWords are what the plan has to say to the whole shop: that it is not
// kept, and what is sprayed today or scuffed on the next working day.
func (v *view) planWords() []screens.PlanWord {
	var out []screens.PlanWord
	if t := v.kept.GetTrouble(); t != "" && v.kept.GetPlanning() { // else another service plans, or nobody is to
		out = append(out, screens.PlanWord{Text: "Booth plan: " + t, Trouble: true})
	}
	for _, s := range v.kept.GetShiftEnd() {
		w := "Spray " + s.GetLoadId() + " by " + v.at(s.GetLatestStart().AsTime()) + " today or scuff " + v.dayOf(s.GetOpensAgain().AsTime())
		if !s.GetPlanned() {
			w += " (the plan has it later)"
		}
		out = append(out, screens.PlanWord{Text: w, Trouble: !s.GetPlanned()})
	}
	return out
}

// dayOf names a day: "tomorrow", "Monday".
func (v *view) dayOf(t time.Time) string {
	t = t.In(v.now.Location())
	if strings.HasPrefix(v.at(t), "tomorrow") {
		return "tomorrow"
	}
	return t.Format("Monday")
}
