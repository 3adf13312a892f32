package jet_test

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"

	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/journal"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/journaltest"
	"seamwright/services/journal/natsd"
)

// cluster is three servers that keep a journal together.
type cluster struct {
	t       *testing.T
	opts    []*server.Options
	servers []*server.Server
}

// newCluster starts three servers and waits until they have a leader.
func newCluster(t *testing.T) *cluster {
	t.Helper()
	c := &cluster{t: t, servers: make([]*server.Server, 3)}
	var routes []*url.URL
	for i := range c.servers {
		o := &server.Options{
			ServerName: fmt.Sprint("shop-", i+1), Host: "127.0.0.1", Port: freePort(t), StoreDir: t.TempDir(),
			JetStream: true, SyncAlways: true, NoSigs: true, NoLog: true,
			Cluster: server.ClusterOpts{Name: "shop", Host: "127.0.0.1", Port: freePort(t)},
		}
		c.opts = append(c.opts, o)
		routes = append(routes, &url.URL{Scheme: "nats", Host: fmt.Sprint("127.0.0.1:", o.Cluster.Port)})
	}
	for i, o := range c.opts {
		o.Routes = routes
		c.start(i)
	}
	t.Cleanup(func() {
		for i := range c.servers {
			c.stop(i)
		}
	})
	c.until("a leader of the cluster", func() bool {
		for _, s := range c.servers {
			if s.JetStreamIsLeader() {
				return s.JetStreamClusterPeers() != nil && len(s.JetStreamClusterPeers()) == 3
			}
		}
		return false
	})
	return c
}

func freePort(t *testing.T) int {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().(*net.TCPAddr).Port
}

func (c *cluster) start(i int) {
	c.t.Helper()
	s, err := server.NewServer(c.opts[i].Clone())
	if err != nil {
		c.t.Fatal(err)
	}
	s.Start()
	if !s.ReadyForConnections(30 * time.Second) {
		c.t.Fatalf("server %d is not ready", i+1)
	}
	c.servers[i] = s
}

func (c *cluster) stop(i int) {
	if s := c.servers[i]; s != nil {
		s.Shutdown()
		s.WaitForShutdown()
		c.servers[i] = nil
	}
}

func (c *cluster) until(what string, ok func() bool) {
	c.t.Helper()
	each := time.NewTicker(20 * time.Millisecond)
	defer each.Stop()
	late := time.After(time.Minute)
	for !ok() {
		select {
		case <-each.C:
		case <-late:
			c.t.Fatalf("no %s within a minute", what)
		}
	}
}

// connect is a connection to any of the three, that goes to another one when
// its own is away.
func (c *cluster) connect() *nats.Conn {
	c.t.Helper()
	var at []string
	for _, o := range c.opts {
		at = append(at, fmt.Sprintf("nats://127.0.0.1:%d", o.Port))
	}
	nc, err := natsd.Dial(strings.Join(at, ","), "test", quiet())
	if err != nil {
		c.t.Fatal(err)
	}
	c.t.Cleanup(nc.Close)
	return nc
}

func (c *cluster) open(nc *nats.Conn, o jet.Options) journal.Journal {
	c.t.Helper()
	o.Replicas = 3
	j, err := jet.Open(c.t.Context(), nc, o)
	if err != nil {
		c.t.Fatal(err)
	}
	c.t.Cleanup(func() { j.Close() })
	return j
}

// leader is which server leads a shop's stream.
func (c *cluster) leader(nc *nats.Conn, shop string) int {
	c.t.Helper()
	js, err := jetstream.New(nc)
	if err != nil {
		c.t.Fatal(err)
	}
	s, err := js.Stream(c.t.Context(), jet.StreamName(shop))
	if err != nil {
		c.t.Fatal(err)
	}
	name := s.CachedInfo().Cluster.Leader
	for i, o := range c.opts {
		if o.ServerName == name {
			return i
		}
	}
	c.t.Fatalf("%q leads the stream", name)
	return 0
}

// Three servers keep the journal's promises as one does.
func TestConformanceOfThreeServers(t *testing.T) {
	c := newCluster(t)
	n := 0
	journaltest.Run(t, func(t *testing.T, o journaltest.Options) *journaltest.Harness {
		n++
		opts := jet.Options{Shop: fmt.Sprint("demo-", n)}
		if o.ForgetSoon {
			opts.Duplicates = 100 * time.Millisecond
		}
		return &journaltest.Harness{Open: func(t *testing.T) journal.Journal { return c.open(c.connect(), opts) }}
	})
}

// The server that leads dies while many write, and comes back: what was
// acknowledged is there once, on each of the three.
func TestTheLeaderDies(t *testing.T) {
	c := newCluster(t)
	nc := c.connect()
	o := jet.Options{Shop: "shop", Timeout: 2 * time.Second}
	c.open(nc, o)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	var mu sync.Mutex
	acked := map[string]uint64{}
	count := func() int { mu.Lock(); defer mu.Unlock(); return len(acked) }
	var all sync.WaitGroup
	for w := range 4 {
		j := c.open(c.connect(), o)
		f := journaltest.NewFold()
		writer := journal.NewWriter(j, f)
		all.Go(func() {
			for i := 0; ctx.Err() == nil; i++ {
				id := fmt.Sprintf("w%d-%d", w, i)
				for ctx.Err() == nil { // the same command until it is answered
					seq, err := writer.DoOnce(ctx, id, oneEvent(id))
					if err == nil {
						mu.Lock()
						acked[id] = seq
						mu.Unlock()
						break
					}
					if fault.KindOf(err) != fault.Unavailable && fault.KindOf(err) != fault.Cancelled {
						t.Errorf("%s: %v", id, err)
						return
					}
				}
			}
		})
	}
	c.until("fact was acknowledged", func() bool { return count() > 50 })
	led := c.leader(nc, o.Shop)
	c.stop(led)
	before := count()
	c.until("fact was acknowledged without the leader", func() bool { return count() > before+50 })
	c.start(led)
	before = count()
	c.until("fact was acknowledged when it was back", func() bool { return count() > before+50 })
	cancel()
	all.Wait()
	j := c.open(c.connect(), o)
	got := map[string]uint64{}
	if err := j.Read(t.Context(), 1, journal.End, func(r journal.Record) error {
		if at, twice := got[r.ID]; twice {
			t.Errorf("%s stands at %d and at %d", r.ID, at, r.Seq)
		}
		got[r.ID] = r.Seq
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	for id, seq := range acked {
		if got[id] != seq {
			t.Errorf("%s was acknowledged at %d and stands at %d", id, seq, got[id])
		}
	}
}

// Two processes send ahead at the same time, so that a record of one comes
// between those of the other: the servers go on all the same.
func TestChainsThatMeetOnThreeServers(t *testing.T) {
	c := newCluster(t)
	o := jet.Options{Shop: "shop", Timeout: time.Second}
	js := []journal.Journal{c.open(c.connect(), o), c.open(c.connect(), o)}
	for round := range 40 {
		last, err := js[0].Last(t.Context())
		if err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		var all sync.WaitGroup
		for w, j := range js {
			all.Go(func() {
				n := 0
				_, err := j.(journal.Chainer).Chain(t.Context(), last, func() (journal.Record, bool) {
					n++
					return journaltest.Record(t, fmt.Sprintf("w%d-%d-%d", w, round, n), n), n <= 1+6*w // one sends a single one
				}, func() {})
				if _, first := errors.AsType[*journal.ConflictError](err); err != nil && !first {
					t.Errorf("round %d: %v", round, err)
				}
			})
		}
		all.Wait()
	}
	last, err := js[0].Last(t.Context())
	if err == nil {
		_, err = js[0].Append(t.Context(), last, journaltest.Record(t, "after", 1))
	}
	if err != nil || last < 20 {
		t.Errorf("behind %d: %v", last, err)
	}
}

func oneEvent(id string) journal.Decide {
	return func(uint64) ([]floor.Event, error) { return []floor.Event{journaltest.Event(id, 1)}, nil }
}
