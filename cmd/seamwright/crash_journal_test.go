package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/floor"
)

// overlap is how many events are read again at each look, to see that the end
// of before is as it was.
const overlap = 50

// catchUp takes what is new in the journal.
func (c *crash) catchUp() {
	c.t.Helper()
	had := c.ledger.seq()
	c.ledger.take(c.entries(max(had, overlap) - overlap + 1))
}

// whole reads the journal from its first event and asks that nothing changed.
func (c *crash) whole() {
	c.t.Helper()
	c.ledger.take(c.entries(1))
}

// entries reads the journal from a number to its end, which is not before
// what the ledger has.
func (c *crash) entries(from uint64) []*floorv1.Entry {
	c.t.Helper()
	ctx, cancel := context.WithTimeout(c.t.Context(), givesUp)
	defer cancel()
	w, err := jobsv1.NewJobsServiceClient(c.conn).WatchFloor(ctx, &jobsv1.WatchFloorRequest{FromSequence: from, StopAtEnd: true})
	if err != nil {
		c.t.Fatal(err)
	}
	var out []*floorv1.Entry
	for {
		r, err := w.Recv()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			c.t.Fatal(err)
		}
		out = append(out, r.GetEntry())
	}
	if end := from - 1 + uint64(len(out)); end < c.ledger.seq() {
		c.t.Fatalf("the journal shrank from %d events to %d", c.ledger.seq(), end)
	}
	return out
}

// noPermit asks that what was given before the end was taken back.
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
	c.catchUp()
	if len(c.ledger.permits) > 0 {
		c.t.Errorf("permits that outlived their holder: %v", c.ledger.permits)
	}
}

// clocks asks that every clock which has ended by now is announced, once, and
// none that has not. The keeper gets the time that it needs to catch up. It
// looks at all seams, or at those that were laid since the look before the
// last one; the clocks of older ones were seen to end.
func (c *crash) clocks(all bool) {
	c.t.Helper()
	c.catchUp()
	first := c.looked[0]
	c.looked = [2]int{c.looked[1], len(c.ledger.beads)}
	if all {
		first = 0
	}
	c.until("the clocks are announced", func() error {
		// What is due after this moment may be told already, or not yet.
		from := time.Now().UTC()
		c.catchUp()
		to := time.Now().UTC()
		ended := 0
		for _, s := range c.ledger.beads[first:] {
			before, after := c.ledger.floor.Clocks(s, from), c.ledger.floor.Clocks(s, to)
			for i := range before {
				if err := judged(string(s), before[i], after[i], &ended); err != nil {
					return err
				}
			}
		}
		for _, id := range c.ledger.floor.Cartridges() {
			if before, ok := c.ledger.floor.Gel(id, from); ok {
				after, _ := c.ledger.floor.Gel(id, to)
				if err := judged(string(id), before, after, &ended); err != nil {
					return err
				}
			}
		}
		if all && ended == 0 {
			return errors.New("no clock has ended")
		}
		return nil
	})
}

// judged looks at a clock at two moments around one look at the journal.
func judged(name string, before, after floor.ClockState, ended *int) error {
	if before.Reached == cure.Yes {
		*ended++
	}
	switch {
	case before.Reached == cure.Yes && after.Announced == 0:
		return fmt.Errorf("%s %s ended and was not announced", name, floor.Word(before.ClockID.Clock))
	case after.Reached != cure.Yes && after.Announced != 0:
		return fmt.Errorf("%s %s was announced by event %d and has not ended", name, floor.Word(before.ClockID.Clock), after.Announced)
	}
	return nil
}

// sameFloor asks the shop about some of its jobs: it must answer what the
// journal makes of them, at the same event.
func (c *crash) sameFloor(crowd *crowd) {
	c.t.Helper()
	ros := []string{"ready"}
	for _, p := range crowd.all[1 : few+1] {
		ros = append(ros, jobOf(p.name, p.n/packFacts, p.n%packFacts))
	}
	for _, ro := range ros {
		if c.ledger.floor.Job(floor.RO(ro)) == nil {
			continue // it was to be opened next
		}
		c.until("the shop answers at the journal's end", func() error {
			r, err := jobsv1.NewJobsServiceClient(c.conn).GetJob(c.t.Context(), &jobsv1.GetJobRequest{Ro: ro})
			if err != nil {
				return err
			}
			c.catchUp()
			if r.GetSequence() != c.ledger.seq() {
				return fmt.Errorf("it answers at event %d of %d", r.GetSequence(), c.ledger.seq())
			}
			c.sameJob(r.GetJob())
			return nil
		})
	}
}

func (c *crash) sameJob(j *jobsv1.Job) {
	c.t.Helper()
	f := c.ledger.floor
	if has, want := len(j.GetSeams()), len(f.SeamsOf(floor.RO(j.GetRo()))); has != want {
		c.t.Errorf("job %s has %d seams, the journal makes %d", j.GetRo(), has, want)
	}
	for _, s := range j.GetSeams() {
		want := f.Seam(floor.SeamID(s.GetSeamId()))
		if want == nil || floor.Stage(floor.Word(s.GetStage())) != want.Stage || len(s.GetClocks()) != len(f.Clocks(want.ID, time.Now())) {
			c.t.Errorf("the shop answers %v, the journal makes %+v", s, want)
		}
	}
}

// batches counts, in the files of the stopped shop's journal, the events that
// closed a group stored at once: the server keeps the header that says so.
func (c *crash) batches() (n int) {
	c.t.Helper()
	err := filepath.WalkDir(c.dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || filepath.Ext(path) != ".blk" {
			return err
		}
		b, err := os.ReadFile(path)
		n += bytes.Count(b, []byte("\r\nNats-Batch-Commit: "))
		return err
	})
	if err != nil {
		c.t.Fatal(err)
	}
	return n
}

// reasonsError is why there is no permit.
func reasonsError(reasons []*boothv1.Reason) error { return fmt.Errorf("no permit: %v", reasons) }
