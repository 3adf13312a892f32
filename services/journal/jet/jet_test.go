package jet_test

import (
	"fmt"
	"io"
	"log/slog"
	"testing"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
	"go.uber.org/goleak"

	"seamwright/services/journal"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/journaltest"
	"seamwright/services/journal/natsd"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

func quiet() *slog.Logger { return slog.New(slog.NewTextHandler(io.Discard, nil)) }

// shop is a store folder and the real server on it.
type shop struct {
	dir    string
	opts   jet.Options
	server *natsd.Server
	conns  []*nats.Conn
}

func newShop(t testing.TB, o jet.Options) *shop {
	o.Shop = "demo"
	s := &shop{dir: t.TempDir(), opts: o}
	s.start(t)
	t.Cleanup(s.stop)
	return s
}

func (s *shop) start(t testing.TB) {
	t.Helper()
	var err error
	if s.server, err = natsd.Start(natsd.Options{StoreDir: s.dir, Listen: true, Users: outside, Logger: quiet()}); err != nil {
		t.Fatal(err)
	}
}

func (s *shop) stop() {
	for _, nc := range s.conns {
		nc.Close()
	}
	s.conns = nil
	s.server.Stop()
}

func (s *shop) connect(t testing.TB) *nats.Conn {
	t.Helper()
	nc, err := s.server.Connect("test")
	if err != nil {
		t.Fatal(err)
	}
	s.conns = append(s.conns, nc)
	return nc
}

func (s *shop) open(t testing.TB) journal.Journal {
	t.Helper()
	j, err := jet.Open(t.Context(), s.connect(t), s.opts)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { j.Close() })
	return j
}

func (s *shop) stream() string { return jet.StreamName(s.opts.Shop) }
func (s *shop) folder() string { return natsd.Folder(s.dir, s.stream()) }

// killReaders deletes every consumer of the stream.
func (s *shop) killReaders(t *testing.T) int {
	t.Helper()
	js, err := jetstream.New(s.connect(t))
	if err != nil {
		t.Fatal(err)
	}
	stream, err := js.Stream(t.Context(), s.stream())
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	names := stream.ConsumerNames(t.Context())
	for name := range names.Name() {
		if err := stream.DeleteConsumer(t.Context(), name); err != nil {
			t.Fatal(err)
		}
		n++
	}
	if err := names.Err(); err != nil {
		t.Fatal(err)
	}
	return n
}

func TestConformance(t *testing.T) {
	journaltest.Run(t, func(t *testing.T, o journaltest.Options) *journaltest.Harness {
		var opts jet.Options
		if o.ForgetSoon {
			opts.Duplicates = 100 * time.Millisecond
		}
		s := newShop(t, opts)
		restart := func(t *testing.T) {
			s.stop()
			s.start(t)
		}
		return &journaltest.Harness{
			Open:        func(t *testing.T) journal.Journal { return s.open(t) },
			Restart:     restart,
			KillReaders: s.killReaders,
			Lose: func(t *testing.T, seq, _ uint64) {
				s.stop()
				s.flip(t, fmt.Sprintf("fill-0-%d", seq-1))
				s.start(t)
			},
		}
	})
}
