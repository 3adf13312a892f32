package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"sync"
	"time"

	"github.com/nats-io/nats.go"

	"seamwright/services/booth"
	"seamwright/services/bus"
	"seamwright/services/clock"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// signs are the signs of life of a shop's services, those of this process and
// those of the others. It is the book of a rpc.Router.
type signs struct {
	conn  *nats.Conn
	shop  string
	clock clock.Clock
	table *bus.Peers
	mine  func() []bus.Life // of this process, now; nil: it only listens

	mu     sync.Mutex
	gone   bool                   // said that they go
	sent   map[sentSign]time.Time // signs under way, with when they were sent
	echoes map[string]time.Time   // when the newest was sent that came back, by instance
	gaps   map[string]time.Time   // the echo before a silence that nobody has looked at yet
}

// sentSign tells a sign of this process from every other.
type sentSign struct {
	instance string
	now      time.Time
}

// listen takes in the signs of all services of a shop from now on.
func listen(conn *nats.Conn, shop string, c clock.Clock) (*signs, error) {
	s := &signs{conn: conn, shop: shop, clock: c, table: bus.NewPeers(), sent: map[sentSign]time.Time{}, echoes: map[string]time.Time{}, gaps: map[string]time.Time{}}
	return s, s.subscribe(bus.Alives, func(m *nats.Msg) {
		l, err := bus.DecodeLife(m.Data)
		at, bad := bus.ParseAlive(m.Subject)
		if err == nil && bad == nil && at.Service == l.Service && at.Instance == l.Instance {
			s.table.Hear(l, time.Now(), c.Now())
			s.back(l)
		}
	})
}

// show says what this process's signs are.
func (s *signs) show(mine func() []bus.Life) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.mine = mine
}

func (s *signs) subscribe(subject func(shop string) (string, error), fn func(*nats.Msg)) error {
	to, err := subject(s.shop)
	if err != nil {
		return err
	}
	if _, err := s.conn.Subscribe(to, fn); err != nil {
		return fault.Wrap(err, fault.Unavailable, "bus-unreachable", "check that the shop's server runs")
	}
	return nil
}

// run sends this process's signs each bus.LifeEvery and notices who has gone.
func (s *signs) run(ctx context.Context) {
	each := time.NewTicker(bus.LifeEvery)
	defer each.Stop()
	for {
		s.send()
		s.table.Of("", time.Now())
		select {
		case <-each.C:
		case <-ctx.Done():
			s.leave()
			return
		}
	}
}

// send sends one sign for each service of this process. What cannot be sent
// is silence, which others understand.
func (s *signs) send() {
	if s.left() {
		return
	}
	for _, l := range s.lives() {
		s.publish(l)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	for k, at := range s.sent { // those that never came back
		if time.Since(at) > bus.Silence {
			delete(s.sent, k)
		}
	}
}

func (s *signs) left() bool { s.mu.Lock(); defer s.mu.Unlock(); return s.gone }

// lives asks for this process's signs. Nothing is held meanwhile: what makes
// them looks at the table.
func (s *signs) lives() []bus.Life {
	s.mu.Lock()
	mine := s.mine
	s.mu.Unlock()
	if mine == nil {
		return nil
	}
	return mine()
}

// back notes that a sign of this process came back over the bus. What counts
// is when it was sent: it may have waited here while the process was paused.
// One that ends a silence in which readers have begun to hold does not undo it
// before somebody has looked.
func (s *signs) back(l bus.Life) {
	s.mu.Lock()
	defer s.mu.Unlock()
	k := sentSign{l.Instance, l.Now.UTC()}
	if at, ok := s.sent[k]; ok {
		was, before := s.echoes[l.Instance]
		if _, noted := s.gaps[l.Instance]; before && !noted && time.Since(was) > booth.Silence {
			s.gaps[l.Instance] = was
		}
		s.echoes[l.Instance] = at
		delete(s.sent, k)
	}
}

// publish sends a sign. The lock is not held meanwhile: a connection that
// hangs must not hang whoever asks for the table.
func (s *signs) publish(l bus.Life) {
	to, err := bus.Alive{Shop: s.shop, Service: l.Service, Instance: l.Instance}.Subject()
	if err != nil {
		return
	}
	if b, err := l.Encode(); err == nil {
		s.mu.Lock()
		s.sent[sentSign{l.Instance, l.Now.UTC()}] = time.Now()
		s.mu.Unlock()
		_ = s.conn.Publish(to, b)
	}
}

// leave says that this process's services go, so that nobody waits for them.
func (s *signs) leave() {
	s.mu.Lock()
	before := s.gone
	s.gone = true
	s.mu.Unlock()
	if before {
		return
	}
	lives := s.lives()
	for _, l := range lives {
		l.Stopping, l.Active = true, false
		s.publish(l)
	}
	if len(lives) > 0 {
		_ = s.conn.FlushTimeout(200 * time.Millisecond)
	}
}

// Where lists the addresses of a service: of those that act, or else of those
// that stand by and will say so.
func (s *signs) Where(service string) ([]string, <-chan struct{}) {
	peers, changed := s.table.Of(service, time.Now())
	var out []string
	for _, p := range peers {
		if p.Address != "" && (p.Active || len(peers) == 0 || !peers[0].Active) {
			out = append(out, p.Address)
		}
	}
	return out, changed
}

// others lists the booth services of other processes, and when the newest
// sign of this process's own was sent that came back.
func (s *signs) others(instance string) (others []booth.Other, echo time.Time) {
	for _, p := range s.table.Lately("booth", time.Now()) {
		if p.Instance != instance {
			others = append(others, booth.Other{Instance: p.Instance, Started: p.Started, Active: p.Active, Heard: p.Heard})
		}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	echo = s.echoes[instance]
	if was, ok := s.gaps[instance]; ok {
		echo = was
		delete(s.gaps, instance)
	}
	return others, echo
}

// clocksAgree tells whose clock is further from this process's than the gate
// bears: which of them is right nobody knows. A sign that was long under way
// looks like a clock that is behind, so that takes a few of them.
func (s *signs) clocksAgree() (err error) {
	peers, _ := s.table.Of("", time.Now())
	for _, p := range peers {
		far := p.Ahead
		if far > booth.Skew || far < -booth.Skew && p.Signs >= enoughSigns {
			err = errors.Join(err, fault.New(fault.Unavailable, floor.HoldClock,
				fmt.Sprintf("the clock of service %s (%s) and this one's are %s apart, the limit is %s", p.Service, p.Instance, far.Abs().Round(100*time.Millisecond), booth.Skew),
				"set the clocks of the machines; time synchronisation keeps them together"))
		}
	}
	return err
}

// enoughSigns is how many signs of a service it takes to say that its clock
// is behind.
const enoughSigns = 3

// heard is what booth services tell each other about a terminal.
type heard struct {
	At time.Time `json:"at"` // by the clock of who heard it
}

// spread tells the other booth services that a terminal was heard.
func (s *signs) spread(terminal string) {
	to, err := bus.Heard{Shop: s.shop, Terminal: terminal}.Subject()
	if err != nil {
		return
	}
	if b, err := json.Marshal(heard{s.clock.Now().UTC()}); err == nil {
		_ = s.conn.Publish(to, b)
	}
}

// takeHeard hands what other booth services heard to this one's gate. The
// earlier of the two clocks counts.
func (s *signs) takeHeard(g *booth.Gate) error {
	return s.subscribe(bus.Heards, func(m *nats.Msg) {
		var h heard
		who, err := bus.ParseHeard(m.Subject)
		if err != nil || json.Unmarshal(m.Data, &h) != nil || h.At.IsZero() {
			return
		}
		if now := s.clock.Now(); now.Before(h.At) {
			h.At = now
		}
		g.Hear(who.Terminal, h.At)
	})
}
