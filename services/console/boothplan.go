package console

import (
	"context"

	"google.golang.org/grpc"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/floor"
)

// BoothPlan asks a running shop for its booth plan: which load is in which
// booth when, why, and what has to be laid by when for it.
type BoothPlan struct {
	At
	Follow bool // go on until the context ends, and tell each plan that differs
}

type boothPlanAnswer struct {
	Planning   bool              `json:"planning"`
	Trouble    *string           `json:"trouble"`
	Now        string            `json:"now"`
	TimeZone   string            `json:"time_zone"` // of the hours in sentences
	Sequence   uint64            `json:"sequence"`
	Cost       float64           `json:"cost"`
	LowerBound float64           `json:"lower_bound"`
	Optimal    bool              `json:"optimal"`
	Booths     []boothPlanBooth  `json:"booths"`
	Loads      []boothPlanLoad   `json:"loads"`
	LayBy      []boothPlanWork   `json:"lay_by"`
	ShiftEnd   []boothPlanShift  `json:"shift_end"`
	Changes    []boothPlanChange `json:"changes"`

	plan *boothv1.Plan
}

type boothPlanBooth struct {
	Booth   string  `json:"booth"`
	Fault   *string `json:"fault"`     // why it is out of use
	SetUpTo *string `json:"set_up_to"` // colour that its gun is set up to for the next load
}

type boothPlanLoad struct {
	Load        string   `json:"load"`
	RO          string   `json:"ro"`
	Booth       *string  `json:"booth"` // null, as the times: no place
	Order       uint32   `json:"order"`
	SetupStart  *string  `json:"setup_start"`
	Start       *string  `json:"start"`
	End         *string  `json:"end"`
	Release     *string  `json:"release"`
	LatestStart *string  `json:"latest_start"`
	Due         *string  `json:"due"`
	SlackMin    *float64 `json:"slack_min"`
	LateMin     float64  `json:"late_min"`
	Missed      bool     `json:"missed"`
	Keep        string   `json:"keep"`
	Begun       bool     `json:"begun"`
	Permitted   bool     `json:"permitted"`
	Why         string   `json:"why"`
	WaitsFor    []string `json:"waits_for"`
}

type boothPlanWork struct {
	Zone    *string `json:"zone"`
	Seam    string  `json:"seam"`
	Load    string  `json:"load"`
	What    string  `json:"what"`
	Start   *string `json:"start"`
	BeginBy *string `json:"begin_by"`
	DoneBy  *string `json:"done_by"`
	Minutes float64 `json:"minutes"`
	Text    string  `json:"text"`
}

type boothPlanShift struct {
	Load        string  `json:"load"`
	LatestStart *string `json:"latest_start"`
	OpensAgain  *string `json:"opens_again"`
	Planned     bool    `json:"planned"`
	Text        string  `json:"text"`
}

type boothPlanChange struct {
	Load     string  `json:"load"`
	Booth    *string `json:"booth"`
	Start    *string `json:"start"`
	OldBooth *string `json:"old_booth"`
	OldStart *string `json:"old_start"`
	What     string  `json:"what"`
	Why      *string `json:"why"`
}

// Run asks for the plan, or follows it.
func (q BoothPlan) Run(ctx context.Context, o Out) error {
	if !q.Follow {
		var a boothPlanAnswer
		err := q.with(ctx, func(c grpc.ClientConnInterface) error {
			p, err := planNow(ctx, c)
			a = boothPlanTold(p)
			return err
		})
		if err != nil {
			return err
		}
		return o.put(a)
	}
	err := q.with(ctx, func(c grpc.ClientConnInterface) error {
		stream, err := boothv1.NewBoothServiceClient(c).WatchPlan(ctx, &boothv1.WatchPlanRequest{})
		if err != nil {
			return err
		}
		return q.follow(stream, o)
	})
	if ended(ctx, err) {
		return nil
	}
	return err
}

// planNow is a plan that has seen all that the shop has been told by now.
func planNow(ctx context.Context, c grpc.ClientConnInterface) (*boothv1.Plan, error) {
	l, err := jobsv1.NewJobsServiceClient(c).ListJobs(ctx, &jobsv1.ListJobsRequest{})
	if err != nil {
		return nil, err
	}
	r, err := boothv1.NewBoothServiceClient(c).GetPlan(ctx, &boothv1.GetPlanRequest{MinSequence: l.GetSequence()})
	return r.GetPlan(), err
}

func boothPlanTold(p *boothv1.Plan) boothPlanAnswer {
	a := boothPlanAnswer{
		Planning: p.GetPlanning(), Trouble: name(p.GetTrouble()), Now: moment(p.GetNow().AsTime()), TimeZone: timeOf(p).name, Sequence: p.GetSequence(), Cost: p.GetCost(),
		LowerBound: p.GetLowerBound(), Optimal: p.GetOptimal(), Loads: []boothPlanLoad{}, LayBy: []boothPlanWork{}, ShiftEnd: []boothPlanShift{}, Booths: []boothPlanBooth{},
		Changes: planChanges(p.GetChanges()), plan: p,
	}
	for _, l := range p.GetLoads() {
		a.Loads = append(a.Loads, boothPlanLoad{
			Load: l.GetLoadId(), RO: l.GetRo(), Booth: name(l.GetBoothId()), Order: l.GetOrder(), SetupStart: maybeMoment(l.GetSetupStart()),
			Start: maybeMoment(l.GetStart()), End: maybeMoment(l.GetEnd()), Release: maybeMoment(l.GetRelease()), LatestStart: maybeMoment(l.GetLatestStart()),
			Due: maybeMoment(l.GetDue()), SlackMin: l.SlackMin, LateMin: l.GetLateMin(), Missed: l.GetMissed(), Keep: floor.Word(l.GetKeep()),
			Begun: l.GetBegun(), Permitted: l.GetPermitted(), Why: l.GetWhy(), WaitsFor: list(l.GetWaitsFor()),
		})
	}
	for _, b := range p.GetBooths() {
		a.Booths = append(a.Booths, boothPlanBooth{b.GetBoothId(), name(b.GetFault()), name(b.GetSetUpTo())})
	}
	for _, w := range p.GetLayBy() {
		a.LayBy = append(a.LayBy, boothPlanWork{
			name(w.GetZoneId()), w.GetSeamId(), w.GetLoadId(), w.GetWhat(), maybeMoment(w.GetStart()), maybeMoment(w.GetBeginBy()),
			maybeMoment(w.GetDoneBy()), w.GetMinutes(), w.GetText(),
		})
	}
	for _, s := range p.GetShiftEnd() {
		a.ShiftEnd = append(a.ShiftEnd, boothPlanShift{s.GetLoadId(), maybeMoment(s.GetLatestStart()), maybeMoment(s.GetOpensAgain()), s.GetPlanned(), s.GetText()})
	}
	return a
}

func planChanges(cs []*boothv1.PlanChange) []boothPlanChange {
	out := []boothPlanChange{}
	for _, c := range cs {
		out = append(out, boothPlanChange{
			c.GetLoadId(), name(c.GetBoothId()), maybeMoment(c.GetStart()), name(c.GetOldBoothId()), maybeMoment(c.GetOldStart()), c.GetWhat(), name(c.GetWhy()),
		})
	}
	return out
}
