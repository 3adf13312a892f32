package jet_test

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"seamwright/services/fault"
	"seamwright/services/journal"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/journaltest"
	"seamwright/services/journal/natsd"
)

// Two of three servers are gone: a read that has a limit of silence ends with
// what it lacks, and goes on when one of them is back.
func TestAReadWithoutAMajorityEnds(t *testing.T) {
	c := newCluster(t)
	o := jet.Options{Shop: "shop", Silence: 300 * time.Millisecond}
	nc := c.connect()
	j := c.open(nc, o)
	for n := range uint64(3) {
		if _, err := j.Append(t.Context(), n, journaltest.Record(t, string(rune('a'+n)), 1)); err != nil {
			t.Fatal(err)
		}
	}
	led := c.leader(nc, o.Shop) // it still says how many records there are
	nc, err := natsd.Dial(fmt.Sprint("nats://127.0.0.1:", c.opts[led].Port), "test", quiet())
	if err != nil {
		t.Fatal(err)
	}
	defer nc.Close()
	j = c.open(nc, o)
	var away []int
	for i := range c.servers {
		if i != led {
			c.stop(i)
			away = append(away, i)
		}
	}
	ctx, cancel := context.WithTimeout(t.Context(), 40*time.Second)
	defer cancel()
	n := 0
	count := func(journal.Record) error { n++; return nil }
	switch err = j.Read(ctx, 1, journal.End, count); {
	case fault.KindOf(err) != fault.Unavailable || n != 0:
		t.Errorf("without a majority: %d records, %v", n, err)
	case !fault.Is(err, jet.ReasonSilent):
		t.Logf("the one that was left gave up leading before it was read: %v", err)
	case !strings.Contains(err.Error(), "of the 3 servers that keep the shop's journal no majority answers: none of 3 records came within 300ms; see that at least 2 of them run"):
		t.Errorf("without a majority: %v", err)
	}
	c.start(away[0])
	c.until("read to the end with two servers", func() bool { n = 0; return j.Read(ctx, 1, journal.End, count) == nil && n == 3 })
}

// A server stops while it is read: the read ends and says how far it came.
func TestASilentServerEndsARead(t *testing.T) {
	s := newShop(t, jet.Options{Silence: 300 * time.Millisecond})
	j := s.open(t)
	s.keep(t, 2000, 0)
	reader := s.conns
	s.conns = nil // the reader's own connection outlives the server
	defer func() {
		for _, nc := range reader {
			nc.Close()
		}
	}()
	last := uint64(0)
	err := j.Read(t.Context(), 1, journal.End, func(r journal.Record) error {
		if last = r.Seq; last == 1 {
			s.stop()
		}
		return nil
	})
	if !fault.Is(err, jet.ReasonSilent) || !strings.Contains(err.Error(), "does not answer: no record came for 300ms, the last one was ") || last == 2000 {
		t.Errorf("up to record %d: %v", last, err)
	}
}
