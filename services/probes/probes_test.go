package probes_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"seamwright/services/fault"
	"seamwright/services/probes"
)

// desk is where readings go.
type desk struct {
	*probes.Intake
	mu   sync.Mutex
	got  []probes.Reading
	fail func(probes.Reading) error
	log  bytes.Buffer
}

// open runs an intake until the test ends; within a bubble, on its clock.
func open(t *testing.T) *desk {
	d := &desk{}
	d.Intake = probes.New(probes.Options{
		Shop: "demo", Clock: time.Now, Log: slog.New(slog.NewTextHandler(&d.log, nil)),
		Take: func(_ context.Context, r probes.Reading) error {
			d.mu.Lock()
			defer d.mu.Unlock()
			if d.fail != nil {
				if err := d.fail(r); err != nil {
					return err
				}
			}
			d.got = append(d.got, r)
			return nil
		},
	})
	ctx, cancel := context.WithCancel(t.Context())
	var running sync.WaitGroup
	running.Go(func() { d.Run(ctx) })
	t.Cleanup(func() { cancel(); running.Wait() })
	return d
}

func timed(at time.Time, c float64) []byte {
	return fmt.Appendf(nil, `{"time":%q,"temp_c":%g}`, at.Format(time.RFC3339Nano), c)
}

func TestReadingsArePlacedInTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := open(t)
		now := time.Now()
		for _, m := range [][]byte{
			[]byte("21.4"), []byte("21.4"),
			timed(now.Add(-time.Hour), 19), timed(now.Add(-time.Hour), 19), // sent again
			timed(now.Add(2*time.Second), 20), timed(now.Add(2001*time.Millisecond), 20),
		} {
			d.Hear("probe.demo.bay-1.p1", m)
		}
		d.Hear("probe.demo.bay-2.p1", timed(now.Add(-time.Hour), 19))
		synctest.Wait()
		if len(d.got) != 6 {
			t.Fatalf("%d readings: %+v, want 6 and the one from the future refused", len(d.got), d.got)
		}
		for n, want := range []time.Time{now, now, now.Add(-time.Hour), now.Add(-time.Hour), now, now.Add(-time.Hour)} {
			if r := d.got[n]; !r.At.Equal(want) || r.Probe != "p1" {
				t.Errorf("reading %d: %+v, want it at %s", n, r, want)
			}
		}
		ids := map[string]int{}
		for _, r := range d.got {
			ids[r.ID]++
		}
		if len(ids) != 5 || d.got[2].ID != d.got[3].ID || d.got[2].ID == d.got[5].ID {
			t.Errorf("command ids %v: one for each reading, the same for the one that was sent again", ids)
		}
		if diff := cmp.Diff(map[string]probes.Count{"bay-1/p1": {Taken: 5, Refused: 1}, "bay-2/p1": {Taken: 1}}, d.Counts()); diff != "" {
			t.Errorf("counts (-want +got)\n%s", diff)
		}
		if !strings.Contains(d.log.String(), "set the probe's clock") {
			t.Errorf("log %s", d.log.String())
		}
	})
}

// A message is stamped when it is heard, however long it waits for its turn.
func TestTheMomentIsThatOfReceipt(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := open(t)
		d.fail = func(probes.Reading) error { time.Sleep(20 * time.Second); return nil }
		now := time.Now()
		for range 3 {
			d.Hear("probe.demo.bay-1.p1", []byte("21"))
		}
		time.Sleep(2 * time.Minute)
		if len(d.got) != 3 || !d.got[2].At.Equal(now) {
			t.Errorf("%+v, want three at %s", d.got, now)
		}
	})
}

// Whatever comes is counted, told at once and then once a minute, and the next
// good reading is taken.
func TestBadMessagesAreCountedAndNeverFatal(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := open(t)
		d.fail = func(r probes.Reading) error {
			switch r.Probe {
			case "lost":
				return fault.Missing("zone", r.Zone, "define it first")
			case "broken":
				panic("out of order")
			case "dead":
				return errors.New("no disk")
			}
			return nil
		}
		for second := range 150 {
			for _, p := range []string{"bad", "lost", "broken", "dead"} {
				payload := []byte("21")
				if p == "bad" {
					payload = []byte("warm\nlevel=ERROR forged")
				}
				d.Hear("probe.demo.bay-1."+p, payload)
			}
			d.Hear("probe.demo.bay-1.good", fmt.Append(nil, 15+second%10))
			d.Hear("probe.other.bay-1.good", []byte("21"))
			d.Hear("probe.demo.bay-1", []byte("21"))
			time.Sleep(time.Second)
		}
		time.Sleep(2 * time.Minute)
		if len(d.got) != 150 {
			t.Errorf("%d good readings, want 150", len(d.got))
		}
		refused := probes.Count{Refused: 150}
		want := map[string]probes.Count{
			"bay-1/bad": refused, "bay-1/lost": refused, "bay-1/broken": refused, "bay-1/dead": refused, "bay-1/good": {Taken: 150}, "": {Refused: 300},
		}
		if diff := cmp.Diff(want, d.Counts()); diff != "" {
			t.Errorf("counts (-want +got)\n%s", diff)
		}
		lines := strings.Split(strings.TrimSpace(d.log.String()), "\n")
		told := map[string]int{}
		for _, l := range lines {
			var who string
			var n int
			if i := strings.Index(l, "probe="); i < 0 {
				t.Errorf("forged line %q", l)
			} else if _, err := fmt.Sscanf(l[i:], "probe=%s count=%d", &who, &n); err != nil {
				t.Errorf("%q: %v", l, err)
			}
			told[who] += n
		}
		if told["bay-1/bad"] != 150 || told["bay-1/lost"] != 150 || told["bay-1/broken"] != 150 || told["bay-1/dead"] != 150 {
			t.Errorf("the log counts %v, want 150 of each", told)
		}
		if len(lines) < 4*3 || len(lines) > 5*5 { // at once, and with the end of each minute
			t.Errorf("%d lines in four and a half minutes:\n%s", len(lines), d.log.String())
		}
	})
}

// A probe that runs wild is cut down, one beside it is not, and one that
// catches up on a day is heard out.
func TestAWildProbeShutsOutItselfOnly(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := open(t)
		begun := time.Now()
		for n := range 720 {
			d.Hear("probe.demo.bay-2.slow", timed(begun.Add(-time.Duration(n)*2*time.Minute), 20))
		}
		for range 100 {
			for range 50 {
				d.Hear("probe.demo.bay-1.wild", []byte("21"))
			}
			d.Hear("probe.demo.bay-1.calm", []byte("21"))
			time.Sleep(time.Second)
		}
		c := d.Counts()
		if c["bay-1/calm"] != (probes.Count{Taken: 100}) || c["bay-2/slow"] != (probes.Count{Taken: 720}) {
			t.Errorf("the others: %v", c)
		}
		if w := c["bay-1/wild"]; w.Taken < 1000 || w.Taken > 1110 || w.Taken+w.Refused != 5000 {
			t.Errorf("the wild one: %+v, want some 1,100 of 5,000", w)
		}
	})
}

func TestNothingGrowsWithoutBound(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := open(t)
		for n := range 10_050 {
			d.Hear(fmt.Sprintf("probe.demo.z%d.p", n), []byte("21"))
			if n%100 == 0 {
				synctest.Wait()
			}
		}
		synctest.Wait()
		c := d.Counts()
		if len(c) != 10_001 || c[""].Taken != 50 || len(d.got) != 10_050 {
			t.Errorf("%d counts, %+v beyond them, %d readings", len(c), c[""], len(d.got))
		}
		// A megabyte is not kept to find out that it is none.
		d.Hear("probe.demo.z0.p", bytes.Repeat([]byte("1"), 1<<20))
		synctest.Wait()
		if d.Counts()["z0/p"].Refused != 1 {
			t.Error("a megabyte was taken for a reading")
		}
	})
}
