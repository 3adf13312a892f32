package feed

import (
	"cmp"
	"context"
	"sync"
	"time"

	"google.golang.org/grpc"

	boothv1 "seamwright/proto/seamwright/booth/v1"
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
}

// Source feeds the screens of one shop; see [screens.Source].
type Source struct {
	opt       Options
	jobs      jobsv1.JobsServiceClient
	materials materialsv1.MaterialsServiceClient
	booth     boothv1.BoothServiceClient
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
		booth: boothv1.NewBoothServiceClient(o.Conn), index: newIndex(),
	}
}

// view is the floor at one moment, with what is needed to put it into words.
type view struct {
	f   *floor.Floor
	now time.Time // in the shop's time zone
	s   *Source
	pic screens.Picture

	// Made when first asked for.
	day       *day
	stock     []spec.Product
	suggested map[floor.SeamID]spec.Plan
}

// look shows the floor while it stands still, once it has seen a sequence.
func (s *Source) look(ctx context.Context, atLeast uint64, fn func(v *view) error) error {
	health := s.opt.Desk.Writer.Healthy()
	var inner error
	err := s.opt.Desk.View(ctx, atLeast, func(f *floor.Floor, now time.Time) {
		v := &view{f: f, now: now.In(s.opt.Zone), s: s}
		v.pic = s.picture(f, v.now, health)
		s.index.follow(f)
		inner = fn(v)
	})
	return cmp.Or(err, inner)
}

// picture says how far the view can be trusted: while the journal is sound
// and followed it is live, else as old as the last moment at which it was.
func (s *Source) picture(f *floor.Floor, now time.Time, health error) screens.Picture {
	p := screens.Picture{Shop: s.opt.Shop, Now: now, Speed: cmp.Or(s.opt.Speed, 1), Seq: f.Seq(), Live: health == nil}
	s.mu.Lock()
	defer s.mu.Unlock()
	if health == nil {
		s.sound = now
		return p
	}
	since := s.sound
	if f.Last().After(since) {
		since = f.Last()
	}
	p.Age, p.Trouble = now.Sub(since), "the shop's journal is not followed any more"
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
func (s *Source) gates(ctx context.Context, booths []string) map[floor.BoothID]*boothv1.Gate {
	out := map[floor.BoothID]*boothv1.Gate{}
	for _, b := range booths {
		if r, err := s.booth.GetGate(ctx, &boothv1.GetGateRequest{BoothId: b}); err == nil {
			out[floor.BoothID(b)] = r.GetGate()
		}
	}
	return out
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
	booths, err := s.Booths(ctx)
	if err != nil {
		return screens.Board{}, err
	}
	ids := make([]string, 0, len(booths))
	for _, b := range booths {
		ids = append(ids, b.ID)
	}
	gates := s.gates(ctx, ids)
	var out screens.Board
	err = s.look(ctx, newest(gates), func(v *view) error {
		out = v.board(gates)
		return nil
	})
	return out, err
}

// Booth is one booth's picture.
func (s *Source) Booth(ctx context.Context, id string) (screens.Booth, error) {
	gates := s.gates(ctx, []string{id})
	var out screens.Booth
	err := s.look(ctx, newest(gates), func(v *view) error {
		b := v.f.Booth(floor.BoothID(id))
		if b == nil {
			return fault.Missing("booth", id, "the index page lists the booths of this shop")
		}
		out = v.booth(b, gates[b.ID])
		return nil
	})
	return out, err
}

// Bay is a terminal's picture: the cars, the seams of a car, or a seam's
// next step.
func (s *Source) Bay(ctx context.Context, terminal, ro, seam string) (screens.Bay, error) {
	var out screens.Bay
	err := s.look(ctx, 0, func(v *view) (err error) {
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
