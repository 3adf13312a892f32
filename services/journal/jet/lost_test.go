package jet_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"seamwright/services/fault"
	"seamwright/services/journal"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/journaltest"
	"seamwright/services/journal/natsd"
)

// wire is a TCP relay before the real server that can swallow what the
// server answers, as a network does that fails at the worst moment.
type wire struct {
	l         net.Listener
	to        string
	armed     atomic.Bool   // swallow from the next acknowledgement on
	swallowed chan struct{} // closed when it has done so
	mu        sync.Mutex
	conns     []net.Conn
	wg        sync.WaitGroup
}

func newWire(t *testing.T, to string) *wire {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	w := &wire{l: l, to: to, swallowed: make(chan struct{})}
	w.wg.Go(w.accept)
	t.Cleanup(func() {
		l.Close()
		w.cut()
		w.wg.Wait()
	})
	return w
}

func (w *wire) accept() {
	for {
		in, err := w.l.Accept()
		if err != nil {
			return
		}
		out, err := net.Dial("tcp", w.to)
		if err != nil {
			in.Close()
			continue
		}
		w.mu.Lock()
		w.conns = append(w.conns, in, out)
		w.mu.Unlock()
		w.wg.Go(func() { _, _ = io.Copy(out, in); out.Close() })
		w.wg.Go(func() { w.answers(in, out); in.Close() })
	}
}

// answers relays from the server. Once armed, it swallows the first answer
// to an append (alone these carry a "seq") and all that follows.
func (w *wire) answers(in, out net.Conn) {
	buf := make([]byte, 64<<10)
	lost := false
	for {
		n, err := out.Read(buf)
		if err != nil {
			return
		}
		if !lost && bytes.Contains(buf[:n], []byte(`"seq":`)) && w.armed.CompareAndSwap(true, false) {
			lost = true
			close(w.swallowed)
		}
		if lost {
			continue
		}
		if _, err := in.Write(buf[:n]); err != nil {
			return
		}
	}
}

// cut breaks every connection; new ones work.
func (w *wire) cut() {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, c := range w.conns {
		c.Close()
	}
	w.conns = nil
}

// outside may do all from outside; the password is far-away.
var outside = []natsd.User{{
	Name: "far", Hash: "$2a$04$FaRzGYr0WNBJs6/S3qE6ZOLxK0WqSxq0WOPvXXcI1MhbBZwXOA2xS", NATS: true, Publish: []string{">"}, Subscribe: []string{">"},
}}

// far is a journal over a wire that loses its first acknowledgement.
func (s *shop) far(t *testing.T, timeout time.Duration) (*wire, journal.Journal) {
	t.Helper()
	w := newWire(t, s.server.URL()[len("nats://"):])
	nc, err := natsd.Dial("nats://far:far-away@"+w.l.Addr().String(), "far", quiet())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(nc.Close)
	o := s.opts
	o.Timeout = timeout
	j, err := jet.Open(t.Context(), nc, o)
	if err != nil {
		t.Fatal(err)
	}
	w.armed.Store(true)
	return w, j
}

// appendLosing appends over the wire, and breaks the connections once the
// server's answer has been lost.
func appendLosing(t *testing.T, w *wire, far journal.Journal, recs ...journal.Record) (uint64, error) {
	go func() {
		<-w.swallowed
		w.cut()
	}()
	return far.Append(t.Context(), 0, recs...)
}

// The answer to an append is lost after the record was stored. The append
// finds its own record and reports success; nothing is stored twice.
func TestLostAnswerIsFoundOut(t *testing.T) {
	for _, n := range []int{1, 3} {
		t.Run(fmt.Sprintf("%d records", n), func(t *testing.T) {
			s := newShop(t, jet.Options{})
			near := s.open(t)
			w, far := s.far(t, 300*time.Millisecond)
			var recs []journal.Record
			for i := range n {
				recs = append(recs, journaltest.Record(t, fmt.Sprintf("far-%d", i), i))
			}
			if last, err := appendLosing(t, w, far, recs...); err != nil || last != uint64(n) {
				t.Errorf("append: %d, %v, want %d", last, err, n)
			}
			if last, err := near.Last(t.Context()); last != uint64(n) || err != nil {
				t.Errorf("the journal ends at %d, %v, want %d", last, err, n)
			}
		})
	}
}

// What stands behind the number is another writer's: a conflict. What stands
// there has the same id but says something else: the id is taken.
func TestLostAnswerAndSomethingElseStandsThere(t *testing.T) {
	for _, c := range []struct{ id, reason string }{
		{"near", journal.ReasonTaken},
		{"far", journal.ReasonConflict},
	} {
		t.Run(c.reason, func(t *testing.T) {
			s := newShop(t, jet.Options{})
			near := s.open(t)
			w, far := s.far(t, 300*time.Millisecond)
			if _, err := near.Append(t.Context(), 0, journaltest.Record(t, "near", 1)); err != nil {
				t.Fatal(err)
			}
			_, err := appendLosing(t, w, far, journaltest.Record(t, c.id, 2))
			if !fault.Is(err, c.reason) {
				t.Errorf("append: %v, want %s", err, c.reason)
			}
			if last, err := near.Last(t.Context()); last != 1 || err != nil {
				t.Errorf("the journal ends at %d, %v, want 1", last, err)
			}
		})
	}
}

// The caller goes away before the outcome is found out: it is reported as
// not known, and the caller's own retry is told that the id is taken.
func TestOutcomeThatStaysUnknown(t *testing.T) {
	s := newShop(t, jet.Options{})
	near := s.open(t)
	w, far := s.far(t, time.Minute)
	ctx, cancel := context.WithCancel(t.Context())
	go func() {
		<-w.swallowed
		cancel()
	}()
	r := journaltest.Record(t, "lost", 1)
	if _, err := far.Append(ctx, 0, r); !fault.Is(err, journal.ReasonUnknown) || fault.KindOf(err) != fault.Unavailable {
		t.Fatalf("append without an answer: %v", err)
	}
	_, err := near.Append(t.Context(), 0, r)
	if taken, ok := errors.AsType[*journal.TakenError](err); !ok || taken.Seq != 1 {
		t.Errorf("the same command again: %v, want taken at 1", err)
	}
}
