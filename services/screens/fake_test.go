package screens

import (
	"context"
	"io"
	"log/slog"
	"maps"
	"net/http/httptest"
	"sync"
	"testing"
	"time"

	"seamwright/services/fault"
)

// fakeSource is a Source that a test sets by hand. It keeps to the contract:
// the same command id takes effect once.
type fakeSource struct {
	mu      sync.Mutex
	board   Board
	booth   Booth
	bay     Bay
	broken  error // what every view answers
	refuse  error // what Post answers
	result  Result
	effects []Action // that took effect
	posts   int      // calls of Post
	changes chan uint64
}

func (f *fakeSource) set(change func(*fakeSource)) {
	f.mu.Lock()
	defer f.mu.Unlock()
	change(f)
}

func (f *fakeSource) Board(context.Context) (Board, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.board, f.broken
}

func (f *fakeSource) Booth(_ context.Context, id string) (Booth, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.broken == nil && id != f.booth.ID {
		return Booth{}, fault.Missing("booth", id, "the index page lists the booths")
	}
	return f.booth, f.broken
}

func (f *fakeSource) Plan(_ context.Context, q Question) (Plan, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	p := galleryPlan()
	if !q.Empty() {
		p.Asked, p.Answer = q, &PlanAnswer{Question: q.Seam + " waits until " + q.Until, Summary: "Nothing changes."}
	}
	return p, f.broken
}

func (f *fakeSource) Bay(_ context.Context, terminal, ro, seam string) (Bay, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	b := f.bay
	if f.broken == nil && seam != "" && (b.Seam == nil || seam != b.Seam.ID) {
		return Bay{}, fault.Missing("seam", seam, "pick it from the car's list")
	}
	if ro == "" {
		b.Job, b.Seam = nil, nil
	} else if seam == "" {
		b.Seam = nil
	}
	b.Terminal = terminal
	return b, f.broken
}

func (f *fakeSource) Run(context.Context, string) (Run, error) { return galleryRun(), nil }

func (f *fakeSource) People(context.Context) ([]Person, error) { return galleryPeople(), nil }
func (f *fakeSource) Booths(context.Context) ([]Named, error) {
	return []Named{{"b1", "Booth 1"}}, nil
}

func (f *fakeSource) Terminals(context.Context) ([]Named, error) {
	return []Named{{"bay-2", "Bay 2"}}, nil
}

func (f *fakeSource) Changes(ctx context.Context) <-chan uint64 {
	out := make(chan uint64)
	go func() {
		defer close(out)
		for {
			select {
			case n := <-f.changes:
				select {
				case out <- n:
				case <-ctx.Done():
					return
				}
			case <-ctx.Done():
				return
			}
		}
	}()
	return out
}

func (f *fakeSource) Post(_ context.Context, a Action) (Result, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.posts++
	if f.refuse != nil {
		return Result{}, f.refuse
	}
	for _, old := range f.effects {
		if old.CommandID == a.CommandID {
			return f.result, nil
		}
	}
	a.Fields = maps.Clone(a.Fields)
	f.effects = append(f.effects, a)
	return f.result, nil
}

func (f *fakeSource) done() []Action {
	f.mu.Lock()
	defer f.mu.Unlock()
	return append([]Action(nil), f.effects...)
}

// quiet is a log that nobody reads.
func quiet() *slog.Logger { return slog.New(slog.NewTextHandler(io.Discard, nil)) }

// serve runs the screens on a real port until the test ends.
func serve(t *testing.T, f *fakeSource) *httptest.Server {
	t.Helper()
	return serveBeating(t, f, 200*time.Millisecond)
}

func serveBeating(t *testing.T, f *fakeSource, beat time.Duration) *httptest.Server {
	t.Helper()
	if f.changes == nil {
		f.changes = make(chan uint64, 8)
	}
	ctx, cancel := context.WithCancel(context.Background())
	h := New(ctx, f, Options{
		Shop: "Harrow Street Body Works", Beat: beat,
		Log: quiet(),
	})
	srv := httptest.NewServer(h)
	t.Cleanup(func() {
		cancel() // first, so that open streams end and Close need not wait
		srv.Close()
	})
	return srv
}
