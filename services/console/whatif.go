package console

import (
	"context"
	"fmt"
	"regexp"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/calc/quantity"
	"seamwright/services/fault"
)

// WhatIf asks a running shop what its booth plan would be if something were
// otherwise. Nothing is recorded.
type WhatIf struct {
	At
	Seam, Until  string // a seam is not laid before
	Closed, Open string // booths, both with From and To
	From, To     string
	Load, Due    string // a load's job is promised for another time
	Start, Booth string // the load is put there by hand
}

type whatIfAnswer struct {
	Summary    string            `json:"summary"`
	CostBefore float64           `json:"cost_before"`
	CostAfter  float64           `json:"cost_after"`
	Changes    []boothPlanChange `json:"changes"`
	Plan       boothPlanAnswer   `json:"plan"`
}

// Lines is the answer for people.
func (a whatIfAnswer) Lines() []string {
	out := []string{fmt.Sprintf("%s (cost %s, now %s)", a.Summary, quantity.Round(a.CostAfter, 0), quantity.Round(a.CostBefore, 0))}
	for _, c := range a.Changes {
		out = append(out, "  "+oneLine(c.What))
	}
	if len(a.Plan.Loads) > 0 {
		out = append(append(out, ""), a.Plan.loads(a.Plan.plan.GetNow().AsTime())...)
	}
	return out
}

// Run asks.
func (q WhatIf) Run(ctx context.Context, o Out) error {
	var a whatIfAnswer
	err := q.with(ctx, func(c grpc.ClientConnInterface) error {
		booths := boothv1.NewBoothServiceClient(c)
		p, err := booths.GetPlan(ctx, &boothv1.GetPlanRequest{})
		if err != nil {
			return err
		}
		suppose, err := q.suppose(p.GetPlan().GetNow().AsTime())
		if err != nil {
			return err
		}
		r, err := booths.WhatIf(ctx, &boothv1.WhatIfRequest{Suppose: suppose})
		if err != nil {
			return err
		}
		a = whatIfAnswer{r.GetSummary(), r.GetCostBefore(), r.GetCostAfter(), planChanges(r.GetChanges()), boothPlanTold(r.GetPlan())}
		return nil
	})
	if err != nil {
		return err
	}
	return o.put(a)
}

// suppose puts the flags together.
func (q WhatIf) suppose(now time.Time) (out []*boothv1.Supposition, err error) {
	h := hours{now: now}
	if q.Seam != "" || q.Until != "" {
		out = append(out, &boothv1.Supposition{What: &boothv1.Supposition_SeamWaits_{SeamWaits: &boothv1.Supposition_SeamWaits{
			SeamId: h.text("--seam", q.Seam, "a seam like 2207/rd-l"), Until: h.need("--until", q.Until),
		}}})
	}
	if q.Closed != "" {
		out = append(out, &boothv1.Supposition{What: &boothv1.Supposition_BoothClosed_{BoothClosed: &boothv1.Supposition_BoothClosed{
			BoothId: q.Closed, From: h.may("--from", q.From), To: h.may("--to", q.To),
		}}})
	}
	if q.Open != "" {
		out = append(out, &boothv1.Supposition{What: &boothv1.Supposition_BoothOpen_{BoothOpen: &boothv1.Supposition_BoothOpen{
			BoothId: q.Open, From: h.may("--from", q.From), To: h.need("--to", q.To),
		}}})
	}
	if q.Due != "" {
		out = append(out, &boothv1.Supposition{What: &boothv1.Supposition_DueMoved_{DueMoved: &boothv1.Supposition_DueMoved{
			LoadId: h.text("--load", q.Load, "a load like 2207-A"), Due: h.need("--due", q.Due),
		}}})
	}
	if q.Start != "" {
		out = append(out, &boothv1.Supposition{What: &boothv1.Supposition_LoadPlaced_{LoadPlaced: &boothv1.Supposition_LoadPlaced{
			LoadId: h.text("--load", q.Load, "a load like 2207-A"), BoothId: q.Booth, Start: h.need("--start", q.Start),
		}}})
	}
	if h.err == nil && len(out) == 0 {
		return nil, fault.Bad("what-if", "nothing", "--seam and --until, --closed, --open and --to, --load with --due, or --load with --start")
	}
	return out, h.err
}

// hours reads moments of which the day may be left out, and keeps the first
// error.
type hours struct {
	now time.Time
	err error
}

var hourForm = regexp.MustCompile(`^([01]?[0-9]|2[0-3]):[0-5][0-9]$`)

func (h *hours) may(flag, text string) *timestamppb.Timestamp {
	if text == "" {
		return nil
	}
	return h.need(flag, text)
}

func (h *hours) need(flag, text string) *timestamppb.Timestamp {
	const want = "an hour of today in UTC like 14:00, or a time like 2026-03-02T14:00:00Z"
	if h.err != nil {
		return nil
	}
	if hourForm.MatchString(text) {
		day := h.now.UTC().Truncate(24 * time.Hour)
		t, err := time.Parse("15:04", text)
		if err == nil {
			return timestamppb.New(day.Add(time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute))
		}
	}
	t, err := when(flag, text)
	if err != nil {
		h.err = fault.Bad(flag, show(text), want)
		if text == "" {
			h.err = missing(flag, want)
		}
		return nil
	}
	return timestamppb.New(t)
}

func (h *hours) text(flag, text, want string) string {
	if text == "" && h.err == nil {
		h.err = missing(flag, want)
	}
	return text
}
