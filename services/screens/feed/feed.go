package feed

import (
	"cmp"
	"context"
	"errors"
	"sync"
	"time"

	"google.golang.org/grpc"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/access"
	"seamwright/services/calc/spec"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/record"
	"seamwright/services/screens"
)

// Options of a feed.
type Options struct {
	Shop   string                   // the name over every screen
	Desk   *record.Desk             // reads the floor
	Conn   grpc.ClientConnInterface // posts to the shop's services, wherever they run
	People *access.Shop             // nil: everybody is who they say, and no PIN is right
	Zone   *time.Location           // the shop's time zone; nil: the machine's
	Speed  float64                  // of simulated time, for the screens' own clocks; 0: 1
	Health func() error             // what is wrong with this process, as the gate asks for it; it never waits; nil: not known here
}

// Source feeds the screens of one shop; see [screens.Source].
type Source struct {
	opt       Options
	jobs      jobsv1.JobsServiceClient
	materials materialsv1.MaterialsServiceClient
	booth     boothv1.BoothServiceClient
	stock     materialsv1.StockServiceClient
	cures     curesv1.CuresServiceClient
	index     index

	mu    sync.Mutex
	sound time.Time // when the journal was last known to be sound
}

var _ screens.Source = (*Source)(nil)

// New makes the source of a shop.
func New(o Options) *Source {
	if o.Zone == nil {
		o.Zone = time.Local
	}
	o.Shop = shopName(o.Shop)
	return &Source{
		opt: o, jobs: jobsv1.NewJobsServiceClient(o.Conn), materials: materialsv1.NewMaterialsServiceClient(o.Conn),
		booth: boothv1.NewBoothServiceClient(o.Conn), stock: materialsv1.NewStockServiceClient(o.Conn), cures: curesv1.NewCuresServiceClient(o.Conn), index: newIndex(),
	}
}

// view is the floor at one moment, with what is needed to put it into words.
type view struct {
	f   *floor.Floor
	now time.Time // in the shop's time zone
	s   *Source
	pic screens.Picture

	kept *boothv1.Plan // the booth plan; nil: there is none

	// Made when first asked for.
	day       *day
	stock     []spec.Product
	suggested map[floor.SeamID]spec.Plan
}

// gatesWithin is how long all gates of the shop together may take to answer:
// with it a screen whose services are gone says so before its own script takes
// it for cut off.
const gatesWithin = 2 * time.Second

// asked are the gates that were asked for one picture.
type asked struct {
	booths int // how many
	gates  map[floor.BoothID]*boothv1.Gate
	plan   *boothv1.Plan // nil: nobody answers about it
}

// silent says that the services are gone: there are booths, and the gate of
// none has answered.
func (a asked) silent() bool { return a.booths > 0 && len(a.gates) == 0 }

// look shows the floor while it stands still, once it has seen a sequence.
func (s *Source) look(ctx context.Context, atLeast uint64, fn func(v *view) error) error {
	var inner error
	err := s.opt.Desk.View(ctx, atLeast, func(f *floor.Floor, now time.Time) {
		v := &view{f: f, now: now.In(s.opt.Zone), s: s}
		s.index.follow(f)
		inner = fn(v)
	})
	return cmp.Or(err, inner)
}

// show looks at the floor once it has seen what the gates beside it have, and
// says how far the picture can be trusted.
func (s *Source) show(ctx context.Context, a asked, fn func(v *view) error) error {
	journal := s.opt.Desk.Writer.Healthy()
	health := journal
	if s.opt.Health != nil {
		health = errors.Join(health, s.opt.Health())
	}
	return s.look(ctx, max(newest(a.gates), a.plan.GetSequence()), func(v *view) error {
		v.kept = a.plan
		v.pic = v.picture(v.faults(a.gates, health), journal != nil, a.silent())
		return fn(v)
	})
}

// servicesGone is what a screen says when no gate answers.
const servicesGone = "No answer: see whether the shop's program runs."

// picture says how far the view can be trusted: while the journal is sound
// and followed and the services answer it is live, else as old as the last
// moment at which it was.
func (v *view) picture(faults []screens.Reason, broken, silent bool) screens.Picture {
	s := v.s
	p := screens.Picture{
		Shop: s.opt.Shop, Now: v.now, Speed: cmp.Or(s.opt.Speed, 1), Seq: v.f.Seq(), Live: !broken && !silent, Faults: faults,
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if p.Live {
		s.sound = v.now
		return p
	}
	since := s.sound
	if v.f.Last().After(since) {
		since = v.f.Last()
	}
	p.Age = max(v.now.Sub(since), 0)
	switch {
	case silent:
		p.Trouble = servicesGone
	case len(faults) > 0:
		p.Trouble = faults[0].Text + " " + faults[0].Do
	}
	return p
}

// People is the short list to pick a name from.
func (s *Source) People(context.Context) ([]screens.Person, error) { return s.people(), nil }

func (s *Source) people() []screens.Person {
	if s.opt.People == nil {
		return nil
	}
	var out []screens.Person
	for _, p := range s.opt.People.People() {
		out = append(out, screens.Person{Name: p.Name, Role: string(p.Role)})
	}
	return out
}

// Changes tells the newest sequence that the views show as it grows. When
// the fold stops it tells the last one once more, so that the screens draw
// themselves stale at once.
func (s *Source) Changes(ctx context.Context) <-chan uint64 {
	out := make(chan uint64, 1)
	go func() {
		defer close(out)
		w := s.opt.Desk.Writer
		seq := w.Seq()
		for {
			err := w.WaitFor(ctx, seq+1)
			if ctx.Err() != nil {
				return
			}
			seq = w.Seq()
			select { // what was not taken yet makes room for what is newer
			case <-out:
			default:
			}
			out <- seq
			if err != nil {
				<-ctx.Done()
				return
			}
		}
	}()
	return out
}

// hear tells the gate that a terminal is alive. That the gate cannot be
// told is no reason to show nothing: it holds by silence.
func (s *Source) hear(ctx context.Context, terminal string) {
	_, _ = s.booth.Hear(ctx, &boothv1.HearRequest{Terminal: terminal})
}

// gates asks the booth service for the state of every booth's gate. A booth
// whose gate does not answer is left out: unknown, and shown as HOLD.
func (s *Source) gates(ctx context.Context, booths []string) asked {
	ctx, cancel := context.WithTimeout(ctx, gatesWithin)
	defer cancel()
	out := asked{booths: len(booths), gates: map[floor.BoothID]*boothv1.Gate{}}
	for _, b := range booths {
		if r, err := s.booth.GetGate(ctx, &boothv1.GetGateRequest{BoothId: b}); err == nil {
			out.gates[floor.BoothID(b)] = r.GetGate()
		}
	}
	if !out.silent() {
		if r, err := s.booth.GetPlan(ctx, &boothv1.GetPlanRequest{}); err == nil {
			out.plan = r.GetPlan()
		}
	}
	return out
}

// allGates asks for the gate of every booth of the shop.
func (s *Source) allGates(ctx context.Context) (asked, error) {
	booths, err := s.Booths(ctx)
	if err != nil {
		return asked{}, err
	}
	ids := make([]string, 0, len(booths))
	for _, b := range booths {
		ids = append(ids, b.ID)
	}
	return s.gates(ctx, ids), nil
}

// newest is the sequence of the newest of some gates: the floor that is shown
// beside them must have seen it too.
func newest(gates map[floor.BoothID]*boothv1.Gate) uint64 {
	var seq uint64
	for _, g := range gates {
		seq = max(seq, g.GetSequence())
	}
	return seq
}

// Board is the wall's picture.
func (s *Source) Board(ctx context.Context) (screens.Board, error) {
	a, err := s.allGates(ctx)
	if err != nil {
		return screens.Board{}, err
	}
	var out screens.Board
	err = s.show(ctx, a, func(v *view) error {
		out = v.board(a.gates)
		return nil
	})
	return out, err
}

// Booth is one booth's picture.
func (s *Source) Booth(ctx context.Context, id string) (screens.Booth, error) {
	a := s.gates(ctx, []string{id})
	var out screens.Booth
	err := s.show(ctx, a, func(v *view) error {
		b := v.f.Booth(floor.BoothID(id))
		if b == nil {
			return fault.Missing("booth", id, "the index page lists the booths of this shop")
		}
		out = v.booth(b, a.gates[b.ID])
		return nil
	})
	return out, err
}

// Bay is a terminal's picture: the cars, the seams of a car, or a seam's
// next step.
func (s *Source) Bay(ctx context.Context, terminal, ro, seam string) (screens.Bay, error) {
	a, err := s.allGates(ctx)
	if err != nil {
		return screens.Bay{}, err
	}
	var out screens.Bay
	err = s.show(ctx, a, func(v *view) (err error) {
		if !v.knownTerminal(terminal) {
			return fault.Missing("terminal", terminal, "pick this tablet's bay again")
		}
		out, err = v.bay(terminal, floor.RO(ro), seam)
		return err
	})
	if err == nil {
		s.hear(ctx, terminal)
	}
	return out, err
}
