// Package journaltest checks that an implementation keeps the promises of
// package journal. One suite runs against the journal in memory and against
// the real embedded server.
package journaltest

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/wrapperspb"

	"seamwright/services/floor"
	"seamwright/services/journal"
)

// Options of the journal that a test wants.
type Options struct {
	// ForgetSoon asks for the shortest memory of command ids that the
	// implementation has.
	ForgetSoon bool
}

// Harness is one implementation on one empty store.
type Harness struct {
	// Open gives another handle on the same store, closed with the test.
	Open func(t *testing.T) journal.Journal

	// Restart ends everything that runs and starts it again on what is on
	// disk; handles from before are dead. Nil: there is no disk.
	Restart func(t *testing.T)

	// KillReaders takes the server-side state of all readers away and
	// returns how many there were. Nil: readers have none.
	KillReaders func(t *testing.T) int

	// Lose makes the stored record with that number unreadable, of `of`
	// records; handles from before may be dead. Nil: the test cannot do that.
	Lose func(t *testing.T, seq, of uint64)
}

// Run runs the suite; make is called once for each test.
func Run(t *testing.T, make func(t *testing.T, o Options) *Harness) {
	for _, c := range []struct {
		name string
		o    Options
		run  func(t *testing.T, h *Harness)
	}{
		{"what was appended is read back", Options{}, readBack},
		{"the largest record fits", Options{}, largest},
		{"an ill-formed record is refused", Options{}, illFormed},
		{"writers race and one wins each number", Options{}, race},
		{"a batch is stored whole or not at all", Options{}, atomic},
		{"a command id is taken once", Options{}, duplicate},
		{"a command id that comes days later is found by the fold", Options{ForgetSoon: true}, daysLater},
		{"a follower gets what is there and what comes", Options{}, follow},
		{"a follower ends with its function, its context, its journal", Options{}, followEnds},
		{"a follower outlives its reader", Options{}, readerDies},
		{"a missing record is an error", Options{}, gap},
		{"a store that is opened again holds everything", Options{}, reopen},
		{"two writers decide on the newest event only", Options{}, twoWriters},
		{"commands that wait are stored together, each once and in its order", Options{}, together},
		{"two writers that batch decide on the newest event only", Options{}, batchingWriters},
		{"an unknown event type stops the fold", Options{}, unknownType},
	} {
		t.Run(c.name, func(t *testing.T) { c.run(t, make(t, c.o)) })
	}
}

// Moment is the time of the n-th test record.
func Moment(n int) time.Time {
	return time.Date(2026, 3, 2, 7, 30, 0, 123456789, time.UTC).Add(time.Duration(n) * time.Second)
}

// Event is the n-th test event; its body is a text.
func Event(id string, n int) floor.Event {
	at := Moment(n)
	return floor.Event{
		Aggregate: fmt.Sprintf("seam.%d.roof-ditch-l", 2200+n%7),
		Header: floor.Header{
			CommandID: id, Actor: "Åsa \"Vee\" 100%", Role: floor.Technician, Terminal: "bay-1", AgeKind: floor.AgeLive,
			Received: at.Add(time.Second), Occurred: at, Earliest: at.Add(-time.Second), Latest: at, Rules: floor.RulesVersion,
		},
		Body: wrapperspb.String(fmt.Sprintf("%s/%d", id, n)),
	}
}

// Record is Event in stored form.
func Record(t testing.TB, id string, n int) journal.Record {
	t.Helper()
	r, err := journal.Encode(Event(id, n))
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// Fold is a fold that keeps what it was given.
type Fold struct {
	mu     sync.Mutex // so that a test may look without the writer's lock
	Events []floor.Event
	ids    map[string]uint64
	Fail   func(e floor.Event) error // asked first, when set
}

// NewFold makes an empty one.
func NewFold() *Fold { return &Fold{ids: make(map[string]uint64)} }

// Seq is the number of events.
func (f *Fold) Seq() uint64 {
	f.mu.Lock()
	defer f.mu.Unlock()
	return uint64(len(f.Events))
}

// Apply keeps the event.
func (f *Fold) Apply(e floor.Event) error {
	if f.Fail != nil {
		if err := f.Fail(e); err != nil {
			return err
		}
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.Events = append(f.Events, e)
	if _, ok := f.ids[e.CommandID]; !ok {
		f.ids[e.CommandID] = e.Seq
	}
	return nil
}

// Taken looks the id up.
func (f *Fold) Taken(id string) (uint64, bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	seq, ok := f.ids[id]
	return seq, ok
}

// Reach makes an event depend on those of its own aggregate; one of an
// aggregate that begins with "all." on any.
func (f *Fold) Reach(e floor.Event) (reads, writes []string, alone bool) {
	own := []string{e.Aggregate}
	return own, own, strings.HasPrefix(e.Aggregate, "all.")
}

// Texts are the bodies of the events so far.
func (f *Fold) Texts() []string {
	f.mu.Lock()
	defer f.mu.Unlock()
	var out []string
	for _, e := range f.Events {
		if s, ok := e.Body.(*wrapperspb.StringValue); ok {
			out = append(out, s.GetValue())
		}
	}
	return out
}

// Follower runs a writer's follower until the test ends.
func Follower(t *testing.T, w *journal.Writer) {
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		defer close(done)
		_ = w.Run(ctx) // what it came to shows in w.Healthy
	}()
	t.Cleanup(func() {
		cancel()
		<-done
	})
}

// limit is a context for one test: generous, so that only a hang meets it.
func limit(t *testing.T) context.Context {
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	t.Cleanup(cancel)
	return ctx
}

// all reads the whole journal.
func all(t *testing.T, j journal.Journal) []journal.Record {
	t.Helper()
	var out []journal.Record
	if err := j.Read(limit(t), 1, journal.End, func(r journal.Record) error {
		out = append(out, r)
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	return out
}

// fill appends n records one by one and returns them.
func fill(t *testing.T, j journal.Journal, n int) []journal.Record {
	t.Helper()
	last, err := j.Last(limit(t))
	if err != nil {
		t.Fatal(err)
	}
	var out []journal.Record
	for i := range n {
		r := Record(t, fmt.Sprintf("fill-%d-%d", last, i), i)
		got, err := j.Append(limit(t), last+uint64(i), r)
		if err != nil || got != last+uint64(i)+1 {
			t.Fatalf("append %d: %d, %v", i, got, err)
		}
		out = append(out, r)
	}
	return out
}
