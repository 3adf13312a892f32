package natsd_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
	"golang.org/x/crypto/bcrypt"

	"seamwright/services/fault"
	"seamwright/services/journal/natsd"
)

func hash(t *testing.T, password string) string {
	t.Helper()
	h, err := bcrypt.GenerateFromPassword([]byte(password), bcrypt.MinCost)
	if err != nil {
		t.Fatal(err)
	}
	return string(h)
}

// anybody may do all, by NATS; the password is pw-NAME.
func anybody(t *testing.T, name string) natsd.User {
	return natsd.User{Name: name, Hash: hash(t, "pw-"+name), NATS: true, Publish: []string{">"}, Subscribe: []string{">"}}
}

// probe may publish one subject, by MQTT.
func probe(t *testing.T, name, subject string) natsd.User {
	return natsd.User{Name: name, Hash: hash(t, "pw-"+name), MQTT: true, Publish: []string{subject}}
}

// as puts a user into a URL.
func as(url, user, password string) string {
	return strings.Replace(url, "nats://", "nats://"+user+":"+password+"@", 1)
}

// device is a real MQTT client; connecting is not tried again.
func device(s *natsd.Server, id, user, password string) (mqtt.Client, error) {
	o := mqtt.NewClientOptions().AddBroker("tcp://" + s.MQTTAddr()).SetClientID(id).SetUsername(user).SetPassword(password)
	// Without a limit one who publishes as the connection is cut waits 30 s.
	o.SetProtocolVersion(4).SetAutoReconnect(false).SetConnectTimeout(10 * time.Second).SetWriteTimeout(time.Second)
	c := mqtt.NewClient(o)
	return c, await(c.Connect())
}

func await(tok mqtt.Token) error {
	if !tok.WaitTimeout(20 * time.Second) {
		return errors.New("no answer within 20 s")
	}
	return tok.Error()
}

func mustDevice(t *testing.T, s *natsd.Server, id, user string) mqtt.Client {
	t.Helper()
	c, err := device(s, id, user, "pw-"+user)
	if err != nil {
		t.Fatalf("%s: %v", user, err)
	}
	t.Cleanup(func() { c.Disconnect(0) })
	return c
}

func listen(t *testing.T, s *natsd.Server, subject string) *nats.Subscription {
	t.Helper()
	nc, err := s.Connect("test")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(nc.Close)
	sub, err := nc.SubscribeSync(subject)
	if err != nil {
		t.Fatal(err)
	}
	if err := nc.Flush(); err != nil {
		t.Fatal(err)
	}
	return sub
}

func TestNobodyGetsInFromOutsideWithoutAUser(t *testing.T) {
	s := start(t, natsd.Options{StoreDir: t.TempDir(), Listen: true, MQTT: true})
	for name, url := range map[string]string{
		"no name": s.URL(), "somebody": as(s.URL(), "somebody", "x"), "no password": as(s.URL(), "inside", ""), "the inside name": as(s.URL(), "inside", "inside"),
	} {
		if nc, err := natsd.Dial(url, "t", quiet()); !fault.Is(err, "bus-refused") || fault.KindOf(err) != fault.Denied {
			t.Errorf("%s: %v %v", name, nc, err)
		}
	}
	for _, user := range []string{"", "inside", "somebody"} {
		if c, err := device(s, "d", user, "x"); err == nil {
			c.Disconnect(0)
			t.Errorf("MQTT user %q got in", user)
		}
	}
}

func TestUsersMayDoWhatStandsThereAndNoMore(t *testing.T) {
	s := start(t, natsd.Options{StoreDir: t.TempDir(), Listen: true, MQTT: true, Users: []natsd.User{
		anybody(t, "far"), probe(t, "p1", "probe.demo.bay-1.p1"),
		{Name: "reader", Hash: hash(t, "pw-reader"), NATS: true, MQTT: true, Subscribe: []string{"gate.demo.>"}},
		{Name: "most", Hash: hash(t, "pw-most"), NATS: true, Publish: []string{"a.>"}, Withheld: []string{"a.b"}},
	}})
	all := listen(t, s, ">")
	inside, err := s.Connect("inside")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(inside.Close)

	t.Run("by the wrong protocol or password", func(t *testing.T) {
		for _, c := range [][2]string{{"p1", "pw-p1"}, {"far", "pw-far2"}} {
			if _, err := natsd.Dial(as(s.URL(), c[0], c[1]), "t", quiet()); !fault.Is(err, "bus-refused") {
				t.Errorf("%s over NATS: %v", c, err)
			}
		}
		for _, c := range [][2]string{{"far", "pw-far"}, {"p1", "pw-far"}, {"p1", ""}} {
			if _, err := device(s, "x", c[0], c[1]); err == nil {
				t.Errorf("%s got in over MQTT", c)
			}
		}
	})
	t.Run("a probe publishes its own topic only", func(t *testing.T) {
		c := mustDevice(t, s, "d1", "p1")
		for _, topic := range []string{"probe/demo/bay-1/p2", "probe/demo/bay-2/p1", "gate/demo/B1", "shop/demo/seam/2207/x", "$JS/API/STREAM/DELETE/x", "probe/demo/bay-1/p1"} {
			for qos := range byte(2) {
				if err := await(c.Publish(topic, qos, false, topic)); err != nil {
					t.Errorf("%s: %v", topic, err) // denied ones are acknowledged too
				}
			}
		}
		for range 2 { // whatever else had an effect would have come before
			m, err := all.NextMsg(10 * time.Second)
			for err == nil && strings.HasPrefix(m.Subject, "$") { // the server's own bookkeeping
				m, err = all.NextMsg(10 * time.Second)
			}
			if err != nil || m.Subject != "probe.demo.bay-1.p1" || string(m.Data) != "probe/demo/bay-1/p1" {
				t.Fatalf("heard %+v, %v", m, err)
			}
		}
		tok := c.Subscribe("probe/demo/bay-1/p1", 0, nil).(*mqtt.SubscribeToken)
		if err := await(tok); err == nil && tok.Result()["probe/demo/bay-1/p1"] != 0x80 {
			t.Errorf("a probe may subscribe: %v", tok.Result())
		}
	})
	t.Run("a reader hears the gates and says nothing", func(t *testing.T) {
		nc, err := natsd.Dial(as(s.URL(), "reader", "pw-reader"), "t", quiet())
		if err != nil {
			t.Fatal(err)
		}
		defer nc.Close()
		gate, err := nc.SubscribeSync("gate.demo.*")
		if err != nil {
			t.Fatal(err)
		}
		journal, err := nc.SubscribeSync("shop.demo.>")
		if err != nil {
			t.Fatal(err)
		}
		if err := nc.Publish("gate.demo.B1", []byte("forged")); err != nil {
			t.Fatal(err)
		}
		if err := nc.Flush(); err != nil {
			t.Fatal(err)
		}
		c := mustDevice(t, s, "r1", "reader")
		got := make(chan mqtt.Message, 4)
		for _, qos := range []byte{0, 1} {
			tok := c.Subscribe("gate/demo/B1", qos, func(_ mqtt.Client, m mqtt.Message) { got <- m }).(*mqtt.SubscribeToken)
			if err := await(tok); err != nil || tok.Result()["gate/demo/B1"] == 0x80 {
				t.Fatalf("QoS %d: %v %v", qos, err, tok.Result())
			}
		}
		if tok := c.Subscribe("shop/#", 0, nil).(*mqtt.SubscribeToken); await(tok) == nil && tok.Result()["shop/#"] != 0x80 {
			t.Errorf("a reader may hear the journal: %v", tok.Result())
		}
		if err := errors.Join(inside.Publish("shop.demo.x", []byte("fact")), inside.Publish("gate.demo.B1", []byte("beat")), inside.Flush()); err != nil {
			t.Fatal(err)
		}
		if m, err := gate.NextMsg(10 * time.Second); err != nil || string(m.Data) != "beat" {
			t.Errorf("over NATS: %+v %v", m, err)
		}
		select {
		case m := <-got:
			if string(m.Payload()) != "beat" || m.Retained() {
				t.Errorf("over MQTT: %q retained %v", m.Payload(), m.Retained())
			}
		case <-time.After(10 * time.Second):
			t.Error("nothing over MQTT")
		}
		if n, _, _ := journal.Pending(); n != 0 {
			t.Errorf("a reader heard %d facts", n)
		}
	})
	t.Run("what is withheld", func(t *testing.T) {
		nc, err := natsd.Dial(as(s.URL(), "most", "pw-most"), "t", quiet())
		if err != nil {
			t.Fatal(err)
		}
		defer nc.Close()
		if err := errors.Join(nc.Publish("a.b", nil), nc.Publish("a.c", nil), nc.Flush()); err != nil {
			t.Fatal(err)
		}
		for {
			m, err := all.NextMsg(10 * time.Second)
			if err != nil || m.Subject == "a.b" {
				t.Fatalf("heard %+v, %v", m, err)
			}
			if m.Subject == "a.c" {
				return
			}
		}
	})
}

// Other users are given to a running server. Who stays keeps the connection,
// the journal's own above all; who goes loses it.
func TestUsersComeAndGoWhileTheServerRuns(t *testing.T) {
	far, gone := anybody(t, "far"), anybody(t, "gone")
	s := start(t, natsd.Options{StoreDir: t.TempDir(), Listen: true, MQTT: true, Users: []natsd.User{far, gone}})
	inside, err := s.Connect("inside")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(inside.Close)
	js, err := jetstream.New(inside)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := js.CreateStream(t.Context(), jetstream.StreamConfig{Name: "S", Subjects: []string{"s.>"}}); err != nil {
		t.Fatal(err)
	}
	out := make(chan struct{})
	dial := func(user string, opts ...nats.Option) *nats.Conn {
		nc, err := natsd.Dial(as(s.URL(), user, "pw-"+user), "t", quiet(), opts...)
		if err != nil {
			t.Fatalf("%s: %v", user, err)
		}
		t.Cleanup(nc.Close)
		return nc
	}
	stays := dial("far")
	dial("gone", nats.MaxReconnects(0), nats.ClosedHandler(func(*nats.Conn) { close(out) }))
	for round := range 5 {
		p := probe(t, fmt.Sprint("p", round), "probe.demo.bay-1.p1")
		if err := s.SetUsers([]natsd.User{far, p}); err != nil {
			t.Fatal(err)
		}
		c := mustDevice(t, s, "d", p.Name)
		if err := await(c.Publish("probe/demo/bay-1/p1", 1, false, "21")); err != nil {
			t.Fatal(err)
		}
		if _, err := js.Publish(t.Context(), "s.x", nil); err != nil {
			t.Fatalf("the journal's connection after %d changes: %v", round+1, err)
		}
	}
	select {
	case <-out:
	case <-time.After(20 * time.Second):
		t.Error("who is gone is still there after 20 s")
	}
	if err := stays.Flush(); err != nil || inside.Statistics.Reconnects != 0 || stays.Statistics.Reconnects != 0 {
		t.Errorf("who stays: %v, %d and %d reconnects", err, inside.Statistics.Reconnects, stays.Statistics.Reconnects)
	}
	if err := s.SetUsers([]natsd.User{{Name: "x", Hash: "plain", NATS: true}}); fault.KindOf(err) != fault.Invalid {
		t.Errorf("a password that is no hash: %v", err)
	}
	if err := s.SetUsers([]natsd.User{{Name: "x", Hash: far.Hash}}); fault.KindOf(err) != fault.Invalid {
		t.Errorf("a user by no protocol: %v", err)
	}
	if err := s.SetUsers([]natsd.User{far, far}); fault.KindOf(err) != fault.Invalid {
		t.Errorf("one user twice: %v", err)
	}
	if nc := dial("far"); nc.Flush() != nil {
		t.Error("a refused change took something away")
	}
}
