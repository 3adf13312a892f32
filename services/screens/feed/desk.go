package feed

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// Plan is the foreman's desk.
func (s *Source) Plan(ctx context.Context, q screens.Question) (screens.Plan, error) {
	a, err := s.allGates(ctx)
	if err != nil {
		return screens.Plan{}, err
	}
	var out screens.Plan
	var suppose *boothv1.Supposition
	var wrong error
	err = s.show(ctx, a, func(v *view) error {
		out = v.desk()
		out.Asked = q
		if !q.Empty() {
			out.Answer = &screens.PlanAnswer{}
			suppose, out.Answer.Question, wrong = v.supposition(q)
		}
		return nil
	})
	if err != nil || out.Answer == nil {
		return out, err
	}
	var r *boothv1.WhatIfResponse
	if wrong == nil {
		r, wrong = s.booth.WhatIf(ctx, &boothv1.WhatIfRequest{Suppose: []*boothv1.Supposition{suppose}})
	}
	if wrong != nil {
		out.Answer.Wrong = sentence(faultWords(wrong))
		return out, nil
	}
	err = s.show(ctx, a, func(v *view) error {
		out.Answer.Summary = sentence(r.GetSummary())
		for _, c := range r.GetChanges() {
			what := c.GetWhat()
			if why := c.GetWhy(); why != "" {
				what += ": " + why
			}
			out.Answer.Changes = append(out.Answer.Changes, v.inPlan(what))
		}
		return nil
	})
	return out, err
}

// faultWords is a fault as a person reads it.
func faultWords(err error) string {
	if f, ok := errors.AsType[*fault.Error](err); ok {
		return f.Error()
	}
	return "the booth service does not answer; ask again in a moment"
}

// desk is the plan in the shop's words.
func (v *view) desk() screens.Plan {
	out := screens.Plan{Picture: v.pic, Planning: v.kept.GetPlanning(), Words: v.planWords()}
	for _, p := range v.kept.GetLoads() {
		l := v.f.Load(floor.LoadID(p.GetLoadId()))
		if l == nil {
			continue
		}
		out.Loads = append(out.Loads, v.deskLoad(p))
		if !p.GetBegun() {
			out.Waiting = append(out.Waiting, screens.Named{ID: p.GetLoadId(), Name: strings.TrimSpace(p.GetLoadId() + " " + p.GetVehicle())})
		}
	}
	for _, b := range v.kept.GetBays() {
		bay := screens.PlanBay{Name: upper(placeName(b.GetZoneId()))}
		if b.GetZoneId() == "" {
			bay.Name = "In no bay that is known"
		}
		for _, i := range b.GetLayBy() {
			w := v.kept.GetLayBy()[i]
			what := fmt.Sprintf("%s %s on %s", w.GetWhat(), lower(w.GetName()), floor.SeamID(w.GetSeamId()).RO())
			bay.Works = append(bay.Works, v.deskWork(w, what))
			out.Seams = append(out.Seams, screens.Named{ID: w.GetSeamId(), Name: string(floor.SeamID(w.GetSeamId()).RO()) + " " + lower(w.GetName())})
		}
		out.Bays = append(out.Bays, bay)
	}
	for _, id := range v.f.Booths() {
		out.Booths = append(out.Booths, screens.Named{ID: string(id), Name: upper(placeName(string(id)))})
	}
	for n := 1; n < daysAhead; n++ {
		day := v.now.AddDate(0, 0, n)
		name := day.Format("Mon 2 Jan")
		if n == 1 {
			name = "tomorrow"
		}
		out.Days = append(out.Days, screens.Named{ID: day.Format(time.DateOnly), Name: name})
	}
	v.byHand(&out)
	return out
}

// daysAhead is how many days a question can be about, with today.
const daysAhead = 8

func (v *view) deskLoad(p *boothv1.PlannedLoad) screens.PlanLoad {
	out := screens.PlanLoad{
		ID: p.GetLoadId(), Vehicle: upper(p.GetVehicle()), Colour: p.GetColour(), Order: int(p.GetOrder()),
		Start: moment(p.GetStart()), End: moment(p.GetEnd()), Latest: moment(p.GetLatestStart()), Due: moment(p.GetDue()),
		Why: strings.TrimSuffix(v.inPlan(p.GetWhy()), "."),
	}
	if p.GetBoothId() != "" {
		out.Booth = upper(placeName(p.GetBoothId()))
	}
	for _, w := range p.GetWaitsFor() {
		out.Waits = append(out.Waits, v.inPlan(w))
	}
	if p.SlackMin != nil {
		out.Slack = length(time.Duration(p.GetSlackMin() * float64(time.Minute)))
		if p.GetSlackMin() < 1 {
			out.Slack = "none"
		}
	}
	switch {
	case p.GetBoothId() == "":
		out.State, out.Bad, out.Why = "no place", v.kept.GetPlanning(), strings.TrimPrefix(out.Why, "no place: ")
	case p.GetMissed():
		out.State, out.Bad = "misses its window: scuff first", true
	case p.GetLateMin() >= 1:
		out.State, out.Bad = length(time.Duration(p.GetLateMin()*float64(time.Minute)))+" late", true
	case p.GetKeep() == boothv1.Keep_KEEP_START:
		out.State = "by hand"
	}
	return out
}

func (v *view) deskWork(w *boothv1.LayBy, what string) screens.PlanWork {
	out := screens.PlanWork{Text: what, For: "its load has no place"}
	if w.GetLoadStart() != nil {
		out.For = "it cannot be done before " + v.at(w.GetLoadStart().AsTime())
	}
	if w.GetDoneBy() != nil {
		out.By, out.For = w.GetDoneBy().AsTime(), "or it misses "+v.at(w.GetLoadStart().AsTime())
		out.Late = w.GetBeginBy().AsTime().Before(v.now)
	}
	return out
}

func moment(t *timestamppb.Timestamp) time.Time {
	if t == nil {
		return time.Time{}
	}
	return t.AsTime()
}

// supposition is a question as the booth service takes it, and in words.
func (v *view) supposition(q screens.Question) (*boothv1.Supposition, string, error) {
	switch {
	case q.Seam != "":
		name := q.Seam
		if s := v.f.Seam(floor.SeamID(q.Seam)); s != nil {
			name = lower(s.Name()) + " on " + string(s.Job)
		}
		at, words, err := v.onDay("until", q.Day, q.Until)
		return &boothv1.Supposition{What: &boothv1.Supposition_SeamWaits_{SeamWaits: &boothv1.Supposition_SeamWaits{SeamId: q.Seam, Until: at}}},
			name + " waits until " + words, err
	case q.Booth != "":
		closed := &boothv1.Supposition_BoothClosed{BoothId: q.Booth}
		words, err := placeName(q.Booth)+" is closed for the day", error(nil)
		if q.To != "" {
			closed.To, words, err = v.onDay("to", q.Day, q.To)
			words = placeName(q.Booth) + " is closed until " + words
		}
		return &boothv1.Supposition{What: &boothv1.Supposition_BoothClosed_{BoothClosed: closed}}, words, err
	case q.Load != "":
		at, words, err := v.onDay("due", q.Day, q.Due)
		return &boothv1.Supposition{What: &boothv1.Supposition_DueMoved_{DueMoved: &boothv1.Supposition_DueMoved{LoadId: q.Load, Due: at}}},
			q.Load + " is promised for " + words, err
	}
	return nil, "something were otherwise", fault.Bad("question", "nothing", "a seam, a booth or a load")
}

// onDay is an hour of a day in the shop's time zone, and in words; of today if
// no day is named.
func (v *view) onDay(field, day, hour string) (*timestamppb.Timestamp, string, error) {
	words := hour
	d := v.now
	if day != "" {
		var err error
		if d, err = time.Parse(time.DateOnly, day); err != nil {
			return nil, words, fault.Bad("day", day, "a day like 2026-03-03; reload the page and pick one")
		}
	}
	t, err := time.Parse("15:04", hour)
	if err != nil {
		return nil, words, fault.Bad(field, hour, "an hour of the day, like 14:00")
	}
	at := time.Date(d.Year(), d.Month(), d.Day(), t.Hour(), t.Minute(), 0, 0, v.now.Location())
	return timestamppb.New(at), v.at(at), nil
}
