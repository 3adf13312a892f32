package record_test

import (
	"bytes"
	"context"
	"fmt"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"google.golang.org/protobuf/proto"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/floor"
	"seamwright/services/floor/floortest"
	"seamwright/services/journal"
	"seamwright/services/journal/memory"
	"seamwright/services/record"
	"seamwright/services/record/recordtest"
)

// ticking is a clock that moves on each time it is asked.
type ticking struct {
	mu sync.Mutex
	at time.Time
}

func (c *ticking) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = c.at.Add(700 * time.Millisecond)
	return c.at
}

// batches is a journal that counts the records that were stored with others.
// An append takes a moment of the bubble's time, which passes when everybody
// else waits: so all hands stand in the queue whenever one is served.
type batches struct {
	journal.Journal
	together int
}

func (b *batches) Append(ctx context.Context, expect uint64, recs ...journal.Record) (uint64, error) {
	if len(recs) > 1 {
		b.together += len(recs)
	}
	time.Sleep(time.Millisecond)
	return b.Journal.Append(ctx, expect, recs...)
}

// chains are batches that send ahead: all that may follow is taken before one
// is stored.
type chains struct{ *batches }

func (c chains) Chain(ctx context.Context, expect uint64, next func() (journal.Record, bool), stored func()) (n int, err error) {
	var recs []journal.Record
	for {
		for r, ok := next(); ok; r, ok = next() {
			recs = append(recs, r)
		}
		if n == len(recs) {
			if n > 1 {
				c.together += n
			}
			return n, nil
		}
		if _, err := c.Append(ctx, expect+uint64(n), recs[n]); err != nil {
			return n, err
		}
		stored()
		n++
	}
}

// Many hands tell facts about the same things at once. Whatever went
// together: each fact was decided as it would have been behind all those
// before it, one by one.
func TestFactsToldAtOnceAreDecidedAsIfOneByOne(t *testing.T) {
	for name, c := range map[string]struct {
		of    func(*batches) journal.Journal
		least int // that must have gone with others, with each seed
	}{
		"batches": {func(b *batches) journal.Journal { return b }, 24},
		"chains":  {func(b *batches) journal.Journal { return chains{b} }, 300},
	} {
		for seed := range uint64(4) {
			t.Run(fmt.Sprintf("%s %d", name, seed), func(t *testing.T) {
				synctest.Test(t, func(t *testing.T) {
					if n := atOnce(t, seed, c.of); n < c.least {
						t.Errorf("%d events went with others, want at least %d", n, c.least)
					}
				})
			})
		}
	}
}

// atOnce gives how many events went with others.
func atOnce(t *testing.T, seed uint64, of func(*batches) journal.Journal) int {
	const hands, each = 200, 3
	j, f, clock := &batches{Journal: memory.New(memory.Options{})}, floor.New(), &ticking{at: recordtest.Monday}
	d := &record.Desk{Writer: journal.NewWriter(of(j), f), Floor: f, Clock: clock}
	crowd, told := floortest.NewCrowd(seed, 120), map[string]floor.Command{}
	tell := func(c floor.Command) {
		if _, err := d.Record(t.Context(), c, (*floor.Floor).Decide); err != nil {
			t.Error(err)
		}
	}
	for _, c := range crowd.Furnish() {
		told[c.Stamp.GetCommandId()] = c
		tell(c)
	}
	lines := make([][]floor.Command, hands)
	for i := range hands * each {
		c := crowd.Next()
		for rare(c.Body) && i%10 != 0 {
			c = crowd.Next()
		}
		if i%10 != 0 {
			c.Stamp.Age = &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE}
		}
		told[c.Stamp.GetCommandId()] = c
		lines[i%hands] = append(lines[i%hands], c)
	}
	var wg sync.WaitGroup
	for _, line := range lines {
		wg.Go(func() {
			for _, c := range line {
				tell(c)
			}
		})
	}
	wg.Wait()
	again, n := floor.New(), 0
	if err := j.Read(t.Context(), 1, journal.End, func(r journal.Record) error {
		got, err := journal.Decode(r)
		if err != nil {
			return err
		}
		want, err := again.Decide(told[got.CommandID], got.Received)
		if err != nil {
			return fmt.Errorf("event %d, one by one: %w", got.Seq, err)
		}
		if !bytes.Equal(wire(t, want.Body), wire(t, got.Body)) || want.Aggregate != got.Aggregate || want.Occurred != got.Occurred || want.Latest != got.Latest {
			t.Errorf("event %d was recorded as\n  %v\none by one it is\n  %v", got.Seq, got.Body, want.Body)
		}
		n++
		return again.Apply(got)
	}); err != nil {
		t.Fatal(err)
	}
	if again.Hash() != f.Hash() {
		t.Error("the journal folds to another floor than the live one")
	}
	t.Logf("%d events, %d of them with others", n, j.together)
	if n != len(told) {
		t.Errorf("%d events, want %d", n, len(told))
	}
	return j.together
}

// rare are facts that go alone or keep many others apart, which in a shop are
// few.
func rare(body proto.Message) bool {
	switch body.(type) {
	case *jobsv1.SeamReworked, *materialsv1.LotRecalled, *materialsv1.StockCounted, *curesv1.ReadingTaken:
		return true
	}
	return false
}

func wire(t *testing.T, m proto.Message) []byte {
	t.Helper()
	raw, err := proto.MarshalOptions{Deterministic: true}.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	return raw
}
