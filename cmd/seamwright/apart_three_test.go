package main_test

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	"seamwright/services/bus"
	"seamwright/services/journal/jet"
)

// TestServicesOnThreeServers runs a shop on three NATS servers with the
// configuration that is delivered, and kills the one that leads the journal, as
// a power cut would, under a permit and while people tell facts. The gate holds
// until the two others have chosen anew, nobody gets leave back by himself, and
// nothing that was acknowledged is lost or stands twice.
func TestServicesOnThreeServers(t *testing.T) {
	if testing.Short() {
		t.Skip("runs and kills processes for half a minute")
	}
	s := newSpread(t)
	s.onThree()
	names := []string{"jobs-1", "materials-1", "cures-1", "booth-1", "board-1"}
	for _, name := range names {
		s.start(name)
	}
	s.opened(names...)
	s.meet()
	s.furnish()
	crowd := newHands(s)
	lamp := newLamp(s)
	id, _ := s.permit()
	lamp.shows(bus.Clear)
	crowd.until(20)
	led := s.leads()
	end(s.servers[led], os.Kill)
	lamp.shows(bus.Hold)
	s.until("the permit is taken back", func() error {
		g, err := s.state()
		if err == nil && (g.GetPermit() != nil || g.GetSign() != boothv1.Sign_SIGN_HOLD) {
			err = fmt.Errorf("%v", g)
		}
		return err
	})
	crowd.until(20)
	if got := lamp.sign(); got != bus.Hold {
		t.Errorf("the lamp shows %s before anybody asked again", got)
	}
	s.startThree(led)
	s.leave()
	if g, err := s.state(); err != nil || g.GetPermit().GetPermitId() == id {
		t.Errorf("leave %s was given twice, or not again: %v, %v", id, g, err)
	}
	crowd.until(80)
	s.until("the keeper of the clocks is at work again", func() error {
		n := 0
		for _, e := range s.entries() {
			switch bodyOf(t, e).(type) {
			case *curesv1.WindowOpened, *curesv1.WindowClosed:
				n++
			}
		}
		if n < 40 {
			return fmt.Errorf("%d ends of clocks were announced", n)
		}
		return nil
	})
	crowd.rest()
	entries := s.entries()
	crowd.check(entries)
	s.proof(len(entries))
	s.stopAll()
}

// onThree configures three servers and starts them.
func (s *spread) onThree() {
	s.t.Helper()
	one, err := os.ReadFile(filepath.Join("..", "..", "deploy", "nats-cluster.conf"))
	if err != nil {
		s.t.Fatal(err)
	}
	base, err := os.ReadFile(s.conf)
	if err != nil {
		s.t.Fatal(err)
	}
	var urls, monitors []string
	s.t.Setenv("SEAMWRIGHT_ROUTES", "routes-of-the-test")
	s.servers, s.replicas = make([]*exec.Cmd, 3), 3
	for i := range s.servers {
		dir := filepath.Join(s.dir, fmt.Sprint("server-", i))
		at, monitor, routes := freeAddress(s.t), freeAddress(s.t), freeAddress(s.t)
		s.t.Setenv(fmt.Sprint("SEAMWRIGHT_", i+1), "nats://routes:routes-of-the-test@"+routes)
		urls, monitors = append(urls, "nats://service:of-the-test@"+at), append(monitors, "http://"+monitor)
		ports := strings.NewReplacer("0.0.0.0:4222", at, "0.0.0.0:8222", monitor, "0.0.0.0:6222", routes)
		own := strings.ReplaceAll(string(base), filepath.Join(s.dir, "store"), filepath.Join(dir, "store"))
		own = mqttPort.ReplaceAllString(own, `mqtt: {
  listen: "`+freeAddress(s.t)+`"`)
		err := os.MkdirAll(dir, 0o700)
		for name, text := range map[string]string{"nats.conf": own, "nats-cluster.conf": ports.Replace(string(one))} {
			if err == nil {
				err = os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600)
			}
		}
		if err != nil {
			s.t.Fatal(err)
		}
	}
	s.url = strings.Join(urls, ",")
	s.t.Setenv("SEAMWRIGHT_NATS", s.url)
	s.t.Setenv("MONITOR", strings.Join(monitors, ","))
	for i := range s.servers {
		s.startThree(i)
	}
}

// startThree starts one of the three.
func (s *spread) startThree(i int) {
	s.t.Helper()
	s.t.Setenv("SEAMWRIGHT_NODE", fmt.Sprint("shop-", i+1))
	s.servers[i] = exec.Command(s.srv, "-c", filepath.Join(s.dir, fmt.Sprint("server-", i), "nats-cluster.conf"))
	if err := s.servers[i].Start(); err != nil {
		s.t.Fatal(err)
	}
}

// leads is which of the three leads the journal, which each of them must keep.
func (s *spread) leads() (led int) {
	s.t.Helper()
	nc, err := nats.Connect(s.url)
	if err != nil {
		s.t.Fatal(err)
	}
	defer nc.Close()
	js, err := jetstream.New(nc)
	if err != nil {
		s.t.Fatal(err)
	}
	s.until("the journal has a leader and two others that keep it", func() error {
		ctx, cancel := context.WithTimeout(s.t.Context(), time.Second)
		defer cancel()
		j, err := js.Stream(ctx, jet.StreamName("shop"))
		if err != nil {
			return err
		}
		c := j.CachedInfo().Cluster
		led = slices.Index([]string{"shop-1", "shop-2", "shop-3"}, c.Leader)
		if led < 0 || len(c.Replicas) != 2 || !c.Replicas[0].Current || !c.Replicas[1].Current {
			return fmt.Errorf("%+v", c)
		}
		return nil
	})
	return led
}

// mqttPort is where the configuration says where MQTT is heard.
var mqttPort = regexp.MustCompile(`mqtt: \{\s+listen: "[^"]+"`)
