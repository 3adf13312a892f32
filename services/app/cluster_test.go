package app_test

import (
	"context"
	"fmt"
	"net"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nats.go/jetstream"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/access"
	"seamwright/services/app"
	"seamwright/services/bus"
	"seamwright/services/fault"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/natsd"
	"seamwright/services/rpc"
)

// three are the servers that deploy/nats-cluster.conf describes, on one
// machine and on ports of their own.
type three struct {
	t       *testing.T
	opts    []*server.Options
	servers []*server.Server
}

func newThree(t *testing.T) *three {
	t.Helper()
	c := &three{t: t}
	for _, name := range []string{"SERVICE", "READER", "PROBE", "ROUTES"} {
		t.Setenv("SEAMWRIGHT_"+name, "of-the-test")
	}
	var at []string
	for i := range 3 {
		at = append(at, fmt.Sprintf("127.0.0.1:%d", free(t)))
		t.Setenv(fmt.Sprint("SEAMWRIGHT_", i+1), "nats://routes:of-the-test@"+at[i])
	}
	for i := range 3 {
		t.Setenv("SEAMWRIGHT_NODE", fmt.Sprint("shop-", i+1))
		o, err := server.ProcessConfigFile("../../deploy/nats-cluster.conf")
		if err != nil {
			t.Fatal(err)
		}
		o.Host, o.Port, o.StoreDir = "127.0.0.1", free(t), t.TempDir()
		o.HTTPHost, o.HTTPPort, o.MQTT.Port = "127.0.0.1", free(t), server.RANDOM_PORT
		o.Cluster.Host, o.Cluster.Port = "127.0.0.1", port(t, at[i])
		o.NoSigs, o.NoLog = true, true
		c.opts, c.servers = append(c.opts, o), append(c.servers, nil)
	}
	for i := range c.opts {
		c.servers[i] = serveNATS(t, c.opts[i])
	}
	c.until("the three agree on a leader", func() bool {
		for _, s := range c.servers {
			if s.JetStreamIsLeader() && len(s.JetStreamClusterPeers()) == 3 {
				return true
			}
		}
		return false
	})
	return c
}

func free(t *testing.T) int {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().(*net.TCPAddr).Port
}

func port(t *testing.T, at string) int {
	t.Helper()
	u, err := net.ResolveTCPAddr("tcp", at)
	if err != nil {
		t.Fatal(err)
	}
	return u.Port
}

func (c *three) until(what string, ok func() bool) { c.t.Helper(); eventually(c.t, what, ok) }

// urls of the servers for a user, and of their monitoring.
func (c *three) urls(user string) string {
	var out []string
	for _, o := range c.opts {
		out = append(out, (&url.URL{Scheme: "nats", User: url.UserPassword(user, "of-the-test"), Host: fmt.Sprint("127.0.0.1:", o.Port)}).String())
	}
	return strings.Join(out, ",")
}

func (c *three) monitors() string {
	var out []string
	for _, o := range c.opts {
		out = append(out, fmt.Sprint("http://127.0.0.1:", o.HTTPPort))
	}
	return strings.Join(out, ",")
}

// leader is which server leads the journal; none while they choose.
func (c *three) leader() int {
	c.t.Helper()
	nc, err := natsd.Dial(c.urls("service"), "test", quiet())
	if err != nil {
		c.t.Fatal(err)
	}
	defer nc.Close()
	js, err := jetstream.New(nc)
	if err != nil {
		c.t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(c.t.Context(), time.Second)
	defer cancel()
	s, err := js.Stream(ctx, jet.StreamName("shop"))
	if err != nil {
		return -1 // nobody can say
	}
	info := s.CachedInfo()
	if info.Config.Replicas != 3 || info.Cluster == nil || len(info.Cluster.Replicas) != 2 {
		c.t.Fatalf("the journal is kept by %+v", info.Cluster)
	}
	return slices.IndexFunc(c.opts, func(o *server.Options) bool { return o.ServerName == info.Cluster.Leader })
}

// A shop on three servers: the one that leads the journal is stopped, and hands
// over to another one. Facts are taken all the same, and the gate goes on.
func TestAShopOnThreeServers(t *testing.T) {
	c := newThree(t)
	r := newReal(t)
	r.past(c.urls("service"), 3)
	people, err := access.Load("../../testdata/shop/people.yaml")
	if err != nil {
		t.Fatal(err)
	}
	r.serve(app.Options{
		People: people, Clock: r.clock,
		Apart: &app.Apart{NATS: c.urls("service"), Monitor: c.monitors(), Replicas: 3, Services: append(rpc.Services(), app.Board), Proof: r.proof},
	})
	defer r.close()
	r.listen(c.urls("reader"))
	r.leave()
	led := c.leader()
	c.servers[led].Shutdown()
	c.servers[led].WaitForShutdown()
	c.until("another one leads", func() bool { now := c.leader(); return now >= 0 && now != led })
	r.leave() // whose permit was taken back meanwhile asks again
	r.tell(&boothv1.BoothFaulted{BoothId: theBooth, What: "the fan stands still"})
	r.until("HOLD over the bus", func() bool { return r.verdict() == bus.Hold })
	c.servers[led] = serveNATS(t, c.opts[led])
	r.tell(&boothv1.BoothReset{BoothId: theBooth, What: "belt"})
	r.leave()
}

// A journal that one server keeps is not taken for one that three keep, and a
// number of servers of which no half is more than the rest is refused.
func TestAJournalOfOneServerIsNotOneOfThree(t *testing.T) {
	o := &server.Options{ServerName: "one", Host: "127.0.0.1", Port: server.RANDOM_PORT, StoreDir: t.TempDir(), JetStream: true, SyncAlways: true, NoSigs: true, NoLog: true}
	s := serveNATS(t, o)
	nc, err := natsd.Dial(s.ClientURL(), "test", quiet())
	if err != nil {
		t.Fatal(err)
	}
	defer nc.Close()
	if _, err := jet.Open(t.Context(), nc, jet.Options{Shop: "shop"}); err != nil {
		t.Fatal(err)
	}
	start := func(replicas int) error {
		a, err := app.New(app.Options{GRPC: "127.0.0.1:0", Log: quiet(), Apart: &app.Apart{NATS: s.ClientURL(), Replicas: replicas, Services: []string{"jobs"}, Proof: t.TempDir()}})
		if err != nil {
			return err
		}
		ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
		defer cancel()
		if err = a.Start(ctx); err == nil {
			err = a.Stop()
		}
		return err
	}
	if err := start(3); !fault.Is(err, "stream-settings") || !strings.Contains(err.Error(), "replicas is 1, the journal needs 3") {
		t.Errorf("three asked of one: %v", err)
	}
	if err := start(2); fault.KindOf(err) != fault.Invalid || !strings.Contains(err.Error(), "1, 3 or 5") {
		t.Errorf("two: %v", err)
	}
	if err := start(0); err != nil {
		t.Errorf("one: %v", err)
	}
}
