package console

import (
	"context"
	"errors"
	"fmt"
	"regexp"

	"google.golang.org/grpc"

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
	now := timeOf(a.Plan.plan)
	out := []string{
		a.Summary,
		fmt.Sprintf("cost %s weighted minutes, %s as the plan stands; both reckoned at %s, times in %s",
			quantity.Round(a.CostAfter, 0), quantity.Round(a.CostBefore, 0), now.full(now.now), now.name),
	}
	for _, c := range a.Changes {
		out = append(out, "  "+oneLine(c.What))
	}
	if len(a.Plan.Loads) > 0 {
		out = append(append(out, ""), a.Plan.loads(now)...)
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
		suppose, err := q.suppose(timeOf(p.GetPlan()))
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
		return supposed(err)
	}
	return o.put(a)
}

// supposition is what a refusal calls what the flags said.
var supposition = regexp.MustCompile(`^(?:suppose\[\d+\]\.([a-z]+_[a-z]+)\.)?(seam|booth|load)_id: `)

// supposed calls what is refused by the flag that said it.
func supposed(err error) error {
	e, ok := errors.AsType[*fault.Error](err)
	if !ok {
		return err
	}
	m := supposition.FindStringSubmatch(e.Message)
	if m == nil {
		return err
	}
	flag := "--" + m[2]
	switch m[1] {
	case "booth_closed":
		flag = "--closed"
	case "booth_open":
		flag = "--open"
	}
	named := *e
	named.Message = flag + ": " + e.Message[len(m[0]):]
	return &named
}

// suppose puts the flags together.
func (q WhatIf) suppose(now shopTime) (out []*boothv1.Supposition, err error) {
	if err := q.lonely(); err != nil {
		return nil, err
	}
	h := reader{shopTime: now}
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

// lonely refuses what says nothing without something else.
func (q WhatIf) lonely() error {
	for _, x := range []struct{ flag, value, beside, want string }{
		{"--load", q.Load, q.Due + q.Start, "with --due TIME, when its car is promised, or with --start TIME, when it is put there by hand"},
		{"--booth", q.Booth, q.Start, "with --load LOAD and --start TIME; a booth that cannot be used is --closed BOOTH"},
		{"--from", q.From, q.Closed + q.Open, "with --closed BOOTH or --open BOOTH"},
		{"--to", q.To, q.Closed + q.Open, "with --closed BOOTH or --open BOOTH"},
	} {
		if x.value != "" && x.beside == "" {
			return fault.Bad(x.flag, show(x.value)+" alone", x.want)
		}
	}
	return nil
}
