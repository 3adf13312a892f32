package booth

import (
	"context"
	"fmt"
	"sync"
	"time"

	"google.golang.org/protobuf/proto"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/booth/planner"
	"seamwright/services/calc/plan"
	"seamwright/services/record"
)

// PlanOptions of the planner.
type PlanOptions struct {
	// Off leaves loads where they were told; questions are answered all the same.
	Off bool
	// Rounds of local search a plan may take, so that a shop in driven time is
	// the same each time; 0: the Budget counts.
	Rounds int
	// Budget is how long a search may take, by the gate's running clock; 0: 100 ms.
	Budget time.Duration
	// Debounce is how long after a plan the next one is made at the earliest,
	// however much happens; 0: 300 ms.
	Debounce time.Duration
	// Every is how often plans are made though nothing happened but time and
	// readings; 0: 5 minutes.
	Every time.Duration
	// House is what is taken for granted; nil: common practice.
	House *planner.House
	// Zone is the shop's time zone, in which the plan's sentences are; nil: UTC.
	// What the journal is told is in UTC.
	Zone *time.Location
	// Solve is the solver; nil: the one of package calc/plan.
	Solve func(plan.Problem, plan.Options) (plan.Plan, error)
}

func (o PlanOptions) withDefaults() PlanOptions {
	if o.Budget <= 0 {
		o.Budget = 100 * time.Millisecond
	}
	if o.Debounce <= 0 {
		o.Debounce = 300 * time.Millisecond
	}
	if o.Every <= 0 {
		o.Every = 5 * time.Minute
	}
	if o.House == nil {
		h := planner.DefaultHouse()
		o.House = &h
	}
	return o
}

// Planner keeps the booth plan of a shop. It is an actor of package clock
// beside the gate, and shares nothing with it but the question of who speaks
// for the booths: however long it takes, and whatever becomes of it, permits
// do not wait for it.
type Planner struct {
	desk *record.Desk
	gate *Gate
	opt  PlanOptions

	making sync.Mutex // one plan at a time; never held while the floor is locked
	seen   uint64     // events up to here were looked at
	due    bool       // one of them matters
	last   time.Time  // when the newest plan was made
	stood  time.Time  // when the loads were shown last as they were told

	mu     sync.Mutex
	newest *boothv1.Plan
	number uint64
	moved  chan struct{} // closed and replaced with each plan
}

// NewPlanner makes the planner of the floor behind a desk. The gate says
// whether this service is the one that speaks, and so plans.
func NewPlanner(d *record.Desk, g *Gate, o PlanOptions) *Planner {
	return &Planner{desk: d, gate: g, opt: o.withDefaults(), moved: make(chan struct{})}
}

// Step makes a plan when one is due and tells the journal which loads have
// another place by it. It never fails: what goes wrong stands in the plan, as
// its trouble.
func (p *Planner) Step(ctx context.Context, now time.Time) (next time.Time, err error) {
	if p.opt.Off {
		return time.Time{}, nil
	}
	p.making.Lock()
	defer p.making.Unlock()
	defer func() {
		if x := recover(); x != nil {
			p.troubled(fmt.Sprintf("the plan could not be kept (%v); tell whoever looks after the program", x))
			next, err = now.Add(p.opt.Every), nil
		}
	}()
	if s := p.gate.standing(); !s.Active {
		p.standBy(s, now)
		return now.Add(p.gate.opt.Beat), nil
	}
	p.look()
	switch wait := p.last.Add(p.opt.Debounce); {
	case p.due && now.Before(wait) && now.After(p.last.Add(-p.opt.Debounce)):
		return wait, nil
	case p.due, p.last.IsZero(), !now.Before(p.last.Add(p.opt.Every)), now.Before(p.last):
		d, made := p.make(now)
		if made != nil {
			p.publish(ctx, d, made)
		}
	}
	return p.wake(now), nil
}

// wake is when a plan is made though nothing happened: not at all while there
// is nothing to plan.
func (p *Planner) wake(now time.Time) time.Time {
	if newest, _ := p.latest(); newest.GetTrouble() == "" && len(newest.GetLoads()) == 0 {
		return time.Time{}
	}
	at := p.last.Add(p.opt.Every)
	if !at.After(now) {
		return now.Add(p.opt.Every)
	}
	return at
}

// stoodEvery is how often one that does not plan looks at the floor anew.
const stoodEvery = 5 * time.Second

// standBy shows that another service plans, or that none does, with the loads
// as they were told: those that stand are not gone, and a permit that is must
// be told.
func (p *Planner) standBy(s Standing, now time.Time) {
	p.due, p.last = true, time.Time{} // plan at once when it is this one's turn
	trouble := "another booth service plans"
	if s.Hold != nil {
		trouble = "the booth service does not plan: " + s.Hold.Error()
	}
	if newest, _ := p.latest(); newest != nil && !newest.GetPlanning() {
		if since := now.Sub(p.stood); newest.GetSequence() == p.desk.Writer.Seq() || since >= 0 && since < stoodEvery {
			return
		}
		trouble = newest.GetTrouble() // in the words in which it was told first
	}
	p.stood = now
	out := p.asTold()
	out.Trouble = trouble
	p.show(out)
}

// make makes a plan of the floor as it is now and shows it. Nil: it could not
// be made, and the plan before it stands, with the trouble beside it.
func (p *Planner) make(now time.Time) (d *planner.Draft, made *boothv1.Plan) {
	defer func() {
		if x := recover(); x != nil {
			d, made = nil, nil
			p.troubled(fmt.Sprintf("the plan could not be made (%v); loads stand where they stood; tell whoever looks after the program", x))
		}
	}()
	p.last, p.due = now, false
	d = p.draft(nil)
	made, err := p.solve(d)
	if err != nil {
		p.troubled("the plan could not be made: " + err.Error() + "; loads stand where they stood")
		return nil, nil
	}
	made.Planning = true
	was, _ := p.latest()
	if was != nil {
		made.Changes = planner.Differences(was, made)
	}
	p.show(made)
	return d, made
}

// draft translates the floor as it is now, with what is supposed.
func (p *Planner) draft(also func(*planner.Draft)) (d *planner.Draft) {
	p.desk.Writer.View(func(uint64) {
		f := p.desk.Floor
		d = planner.From(f, latest(p.desk.Clock.Now(), f.Last()), *p.opt.House)
		d.Zone = p.opt.Zone
		if also != nil {
			also(d)
		}
	})
	return d
}

// solve answers a draft within the budget.
func (p *Planner) solve(d *planner.Draft) (*boothv1.Plan, error) {
	got, err := d.Solve(p.search())
	if err != nil {
		return nil, err
	}
	return d.Tell(got), nil
}

// search is how a plan is looked for from now on.
func (p *Planner) search() planner.Search {
	s := planner.DefaultSearch()
	s.Solve, s.Rounds = p.opt.Solve, p.opt.Rounds
	if s.Rounds == 0 {
		begin := p.running()
		s.More = func() bool { return p.running() < begin+p.opt.Budget*6/10 } // the rest is for what follows the search
		s.Rest = func() bool { return p.running() < begin+p.opt.Budget*9/10 }
	}
	return s
}

// running is a clock that nobody sets.
func (p *Planner) running() time.Duration {
	if p.gate.opt.Running != nil {
		return p.gate.opt.Running()
	}
	return time.Since(begun)
}

// begun is when the program began.
var begun = time.Now()

// show makes a plan the newest one.
func (p *Planner) show(made *boothv1.Plan) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.number++
	made.Number, made.Planner = p.number, p.gate.opt.Holder
	p.newest = made
	close(p.moved)
	p.moved = make(chan struct{})
}

// troubled shows the plan before with what went wrong.
func (p *Planner) troubled(what string) {
	was, _ := p.latest()
	out := &boothv1.Plan{Planning: true}
	if was != nil {
		out = proto.CloneOf(was)
	}
	out.Trouble, out.Changes = what, nil
	p.show(out)
}

// latest is the newest plan, nil before the first, and a channel that closes
// with the next one.
func (p *Planner) latest() (*boothv1.Plan, <-chan struct{}) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.newest, p.moved
}

// current is a plan that has seen a sequence. Where there is none it is made
// at once, but nothing is told to the journal.
func (p *Planner) current(ctx context.Context, atLeast uint64) (*boothv1.Plan, error) {
	if err := p.desk.Writer.WaitFor(ctx, atLeast); err != nil {
		return nil, err
	}
	if p.opt.Off {
		return p.asTold(), nil
	}
	if newest, ok := p.has(atLeast); ok {
		return newest, nil // it does not wait for a plan that is being made
	}
	p.making.Lock()
	defer p.making.Unlock()
	p.look()
	if newest, ok := p.has(atLeast); ok || newest != nil && newest.GetPlanning() && !p.due {
		return newest, nil // nothing has happened since that matters
	}
	if s := p.gate.standing(); !s.Active {
		p.standBy(s, p.desk.Clock.Now())
	} else {
		p.make(p.desk.Clock.Now())
		p.due = true // its moves are still to be told
	}
	newest, _ := p.latest()
	return newest, nil
}

// has is the newest plan, if it has seen a sequence and this service plans.
func (p *Planner) has(atLeast uint64) (*boothv1.Plan, bool) {
	newest, _ := p.latest()
	return newest, newest != nil && newest.GetPlanning() && newest.GetSequence() >= atLeast && p.gate.standing().Active
}

// asTold is where the loads stand without a planner.
func (p *Planner) asTold() *boothv1.Plan {
	d := p.draft(nil)
	out := d.Tell(d.AsTold())
	out.Planner = p.gate.opt.Holder
	return out
}
