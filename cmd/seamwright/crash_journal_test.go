package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

// entries reads the whole journal.
func (c *crash) entries() []*floorv1.Entry {
	c.t.Helper()
	ctx, cancel := context.WithTimeout(c.t.Context(), 20*time.Second)
	defer cancel()
	w, err := jobsv1.NewJobsServiceClient(c.conn).WatchFloor(ctx, &jobsv1.WatchFloorRequest{FromSequence: 1, StopAtEnd: true})
	if err != nil {
		c.t.Fatal(err)
	}
	var out []*floorv1.Entry
	for {
		r, err := w.Recv()
		if errors.Is(err, io.EOF) {
			return out
		}
		if err != nil {
			c.t.Fatal(err)
		}
		out = append(out, r.GetEntry())
	}
}

// noPermit asks that what was given before the kill was taken back.
func (c *crash) noPermit() {
	c.t.Helper()
	c.until("the permit of before is taken back", func() error {
		r, err := boothv1.NewBoothServiceClient(c.conn).GetGate(c.t.Context(), &boothv1.GetGateRequest{BoothId: "booth-1"})
		if err != nil {
			return err
		}
		if g := r.GetGate(); g.GetPermit() != nil || g.GetSign() != boothv1.Sign_SIGN_HOLD {
			return fmt.Errorf("the gate shows %v", g)
		}
		return nil
	})
	running := map[string]bool{}
	for _, e := range c.entries() {
		switch b := bodyOf(c.t, e).(type) {
		case *boothv1.PermitIssued:
			running[b.GetPermitId()] = true
		case *boothv1.PermitRevoked:
			if !running[b.GetPermitId()] {
				c.t.Errorf("event %d revokes %s, which does not run", e.GetSequence(), b.GetPermitId())
			}
			delete(running, b.GetPermitId())
		}
	}
	if len(running) > 0 {
		c.t.Errorf("permits that outlived their holder: %v", running)
	}
}

// until waits for a condition, not longer than is fair.
func (c *crash) until(what string, ask func() error) {
	c.t.Helper()
	tick := time.NewTicker(100 * time.Millisecond)
	defer tick.Stop()
	limit := time.NewTimer(10 * time.Second)
	defer limit.Stop()
	for {
		err := ask()
		if err == nil {
			return
		}
		select {
		case <-tick.C:
		case <-limit.C:
			c.t.Fatalf("%s: %v", what, err)
		}
	}
}

// compare asks that the journal holds what earlier starts found, unchanged,
// and what the crowd was told, once.
func (c *crash) compare(crowd *crowd) {
	c.t.Helper()
	now := c.entries()
	if len(now) < len(c.seen) {
		c.t.Fatalf("the journal shrank from %d to %d", len(c.seen), len(now))
	}
	for i, e := range now {
		if e.GetSequence() != uint64(i+1) {
			c.t.Fatalf("event %d stands at place %d", e.GetSequence(), i+1)
		}
		if i < len(c.seen) && !same(e, c.seen[i]) {
			c.t.Errorf("event %d has changed:\n%v\n%v", i+1, c.seen[i], e)
		}
	}
	c.seen = slices.Clone(now)
	crowd.check(now)
}
