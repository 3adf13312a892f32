package main

import (
	"context"
	"flag"
	"math/rand/v2"
	"testing"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
)

var crashCycles = flag.Int("crash.cycles", 30, "how often the crash test kills the shop")

const (
	wholeEvery = 10 // cycles between two readings of the whole journal
	manyEvery  = 3  // cycles between two with many posters, whose facts are stored in groups
)

// TestKilledUnderLoad kills the whole program, again and again, while several
// terminals and probes tell facts: few at a time, and so many that the writer
// stores them in groups. After each start every acknowledged fact is in the
// journal once, with the same bytes; the clocks run and end as the journal
// says they must; no permit has outlived its holder; the shop answers with the
// floor that the journal makes; and the proof finds nothing missing.
func TestKilledUnderLoad(t *testing.T) {
	if testing.Short() {
		t.Skip("kills processes for half a minute")
	}
	c := newCrash(t, build(t), t.TempDir())
	c.bring("people.yaml")
	c.start()
	c.furnish()
	crowd := newCrowd(t)
	for n := range *crashCycles {
		crowd.work(c.conn, crowdOf(n))
		c.load(n, crowd)
		c.kill()
		crowd.rest()
		if n%manyEvery == 2 {
			c.verify()
			c.stillborn(n)
		}
		c.start()
		c.after(n, crowd)
		if t.Failed() {
			t.Fatalf("in cycle %d", n+1)
		}
		if n%50 == 49 {
			t.Logf("%d done, the journal stands at %d", n+1, c.ledger.seq())
		}
	}
	c.whole()
	c.kill()
	c.verify()
	c.account(crowd, *crashCycles)
	batches := c.batches()
	t.Logf("%d groups of facts were stored at once", batches)
	if batches < *crashCycles/manyEvery {
		t.Errorf("%d groups in %d cycles are too few for a kill to meet one under way", batches, *crashCycles)
	}
}

// crowdOf is how many tell facts in a cycle.
func crowdOf(n int) int {
	if n%manyEvery == 1 {
		return crowdSize
	}
	return few
}

// after is what must hold of a shop that came back.
func (c *crash) after(n int, crowd *crowd) {
	c.t.Helper()
	if n%wholeEvery == wholeEvery-1 {
		c.whole()
	}
	c.catchUp()
	crowd.check(c.ledger)
	c.noPermit()
	c.clocks(n%wholeEvery == wholeEvery-1)
	c.sameFloor(crowd)
}

// account asks that the test did what it is for, and says how quickly the shop
// was ready.
func (c *crash) account(crowd *crowd, cycles int) {
	c.t.Helper()
	if n := crowd.acknowledged(); n < 10*cycles {
		c.t.Errorf("only %d facts were acknowledged in %d cycles", n, cycles)
	}
	if c.issued < cycles {
		c.t.Errorf("only %d permits were running when the shop ended %d times", c.issued, cycles)
	}
	median, longest := c.readiness()
	if median > readyWithin {
		c.t.Errorf("the shop was ready again after %s in the median of %d starts, the limit is %s", median, len(c.starts), readyWithin)
	}
	c.t.Logf("%d ends under load: %d facts acknowledged, %d events, %d permits ran; ready after %s in the median, %s at most",
		cycles, crowd.acknowledged(), len(c.ledger.entries), c.issued, median, longest)
}

// load asks for a permit while the crowd works, and lets it work on until a
// number of facts was acknowledged that differs from cycle to cycle.
func (c *crash) load(n int, crowd *crowd) {
	c.t.Helper()
	c.permit()
	crowd.until(crowd.working*2 + rand.New(rand.NewPCG(uint64(n), 7)).IntN(60))
}

// permit asks until it gets one: the first time the clocks may still run.
func (c *crash) permit() {
	c.t.Helper()
	c.until("a permit", func() error {
		ctx, cancel := context.WithTimeout(c.t.Context(), 5*time.Second)
		defer cancel()
		r, err := boothv1.NewBoothServiceClient(c.conn).RequestPermit(ctx, &boothv1.RequestPermitRequest{
			Stamp: c.stamp("Sel Thrushgate", floorv1.Role_ROLE_PAINTER, "booth-screen"), BoothId: "booth-1", LoadId: "ready-A", Untouched: true,
		})
		if err != nil {
			return err
		}
		if r.GetPermit() == nil {
			return reasonsError(r.GetReasons())
		}
		c.issued++
		return nil
	})
}
