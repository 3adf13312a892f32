package console

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"sync"
	"time"

	"google.golang.org/grpc"

	"seamwright/services/access"
	"seamwright/services/app"
	"seamwright/services/clock"
	"seamwright/services/fault"
	"seamwright/services/journal"
	"seamwright/services/journal/memory"
	"seamwright/services/sim"
	"seamwright/testdata/shop"
)

// soakPIN is the PIN of everybody in the invented shop.
const soakPIN = "2468"

// soakMachine is what a shop of a soak runs on: a journal that outlives the
// program and can fail, a clock that can be set, a program that is killed and
// started again, now and then another one beside it.
type soakMachine struct {
	store  *soakStore
	clock  *clock.Driven
	people *access.Shop

	turned time.Duration // how far the clock was set from where time is
	starts int
	now    *program
	beside *program // on the same journal; nil: none
	told   int      // calls since it was started
}

// program is one running program.
type program struct {
	app *app.App
	in  grpc.ClientConnInterface
	at  *app.Inspection
}

func newSoakMachine(start time.Time) (*soakMachine, error) {
	list, err := fs.ReadFile(shop.Files, "people.yaml")
	if err != nil {
		return nil, fault.Wrap(err, fault.Internal, "people", "")
	}
	people, err := access.Parse("people.yaml", list)
	if err != nil {
		return nil, err
	}
	return &soakMachine{store: &soakStore{Journal: memory.New(memory.Options{Shop: soakName})}, clock: clock.NewDriven(start), people: people}, nil
}

// soakName is what the shops are called in their journals.
const soakName = "soak"

// start starts a program on the journal.
func (m *soakMachine) start(ctx context.Context) (*program, error) {
	m.starts++
	a, err := app.New(app.Options{
		Shop: soakName, Clock: m.clock, Journal: m.store, People: m.people, Holder: fmt.Sprintf("soak-gate-%d", m.starts), Beat: beatEvery,
		Log: slog.New(slog.DiscardHandler),
	})
	if err != nil {
		return nil, err
	}
	if err := a.Start(ctx); err != nil {
		return nil, err
	}
	return &program{a, a.Direct(), a.Inspect()}, nil
}

// stop ends all that runs.
func (m *soakMachine) stop() (err error) {
	for _, p := range []*program{m.now, m.beside} {
		if p != nil {
			err = errors.Join(err, p.app.Stop())
		}
	}
	return err
}

// Invoke calls the program; facts go to the one beside it in turn.
func (m *soakMachine) Invoke(ctx context.Context, method string, args, reply any, opts ...grpc.CallOption) error {
	p := m.now
	if m.beside != nil && method == "/seamwright.jobs.v1.JobsService/Record" {
		if m.told++; m.told%2 == 1 {
			p = m.beside
		}
	}
	return p.in.Invoke(ctx, method, args, reply, opts...)
}

// NewStream calls the program.
func (m *soakMachine) NewStream(ctx context.Context, desc *grpc.StreamDesc, method string, opts ...grpc.CallOption) (grpc.ClientStream, error) {
	return m.now.in.NewStream(ctx, desc, method, opts...)
}

// Now is where time is, whatever the program's clock says.
func (m *soakMachine) Now() time.Time { return m.clock.Now().Add(-m.turned) }

// AdvanceTo moves time on. While nothing can be written, what the program
// would tell waits.
func (m *soakMachine) AdvanceTo(ctx context.Context, to time.Time) error {
	to = to.Add(m.turned)
	err := m.now.app.AdvanceTo(ctx, to)
	if err == nil && m.beside != nil {
		err = m.beside.app.AdvanceTo(ctx, m.clock.Now())
		if err == nil {
			err = m.now.app.AdvanceTo(ctx, to) // what the other one told is followed
		}
	}
	if err != nil && m.store.refusing() && ctx.Err() == nil {
		return m.clock.Set(to)
	}
	return err
}

// Fail makes the next append fail.
func (m *soakMachine) Fail(how sim.Failure) sim.Failure { return m.store.fail(how) }

// Unwritable refuses every append.
func (m *soakMachine) Unwritable(on bool) { m.store.refuse(on) }

// Restart ends the program and starts it again.
func (m *soakMachine) Restart(ctx context.Context) (err error) {
	if err := m.now.app.Stop(); err != nil {
		return err
	}
	m.now, err = m.start(ctx)
	return err
}

// Beside starts a second program, or ends it.
func (m *soakMachine) Beside(ctx context.Context, on bool) (err error) {
	if !on {
		err, m.beside = m.beside.app.Stop(), nil
		return err
	}
	m.beside, err = m.start(ctx)
	m.told = 0
	return err
}

// Other are the second program's clients.
func (m *soakMachine) Other() sim.Clients { return sim.Over(m.beside.in) }

// Turn sets the clock.
func (m *soakMachine) Turn(by time.Duration) {
	m.turned += by
	m.clock.Turn(by)
}

// Hash is that of the program's floor; so is that of one beside it.
func (m *soakMachine) Hash(ctx context.Context) (string, error) { return m.now.at.Hash(ctx) }

// ReplayHash is that of the floor folded again.
func (m *soakMachine) ReplayHash(ctx context.Context) (string, error) {
	return m.now.at.ReplayHash(ctx)
}

// VerifyJournal reads the journal through.
func (m *soakMachine) VerifyJournal(ctx context.Context) error { return m.now.at.VerifyJournal(ctx) }

// Doubt puts the store in doubt.
func (m *soakMachine) Doubt(on bool) { m.now.at.Doubt(on) }

// Trouble makes the program tell of a trouble of its own.
func (m *soakMachine) Trouble(err error) { m.now.at.Trouble(err) }

// soakStore is a journal that can fail, and that stays when a program ends.
type soakStore struct {
	journal.Journal

	mu      sync.Mutex
	next    sim.Failure
	refuses bool
}

func (s *soakStore) fail(how sim.Failure) (was sim.Failure) {
	s.mu.Lock()
	defer s.mu.Unlock()
	was, s.next = s.next, how
	return was
}

func (s *soakStore) refuse(on bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.refuses = on
}

func (s *soakStore) refusing() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.refuses
}

// take is how the append that begins now fails.
func (s *soakStore) take() sim.Failure {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.refuses {
		return sim.Refused
	}
	how := s.next
	s.next = sim.Sound
	return how
}

var errNoAnswer = errors.New("the journal did not answer")

// Append appends, or fails.
func (s *soakStore) Append(ctx context.Context, expect uint64, recs ...journal.Record) (uint64, error) {
	switch s.take() {
	case sim.Refused:
		return 0, fault.New(fault.Unavailable, "journal-full", "the journal takes nothing", "make room and tell it again")
	case sim.Lost:
		return 0, journal.Unsure(expect, errNoAnswer)
	case sim.Kept:
		if _, err := s.Journal.Append(ctx, expect, recs...); err != nil {
			return 0, err
		}
		return 0, journal.Unsure(expect, errNoAnswer)
	}
	return s.Journal.Append(ctx, expect, recs...)
}

// Close leaves the journal open for the next program.
func (s *soakStore) Close() error { return nil }
