package natsd

import (
	"fmt"
	"sync"
	"time"

	"github.com/nats-io/nats-server/v2/server"
)

const (
	lookEvery = 500 * time.Millisecond // at what users send
	shutFor   = time.Minute            // one who floods the server
	mostConns = 4096                   // that are looked at
)

// flood shuts out users who send more at once than they may. The journal
// shares this server, and a sender that runs wild would leave it no time.
type flood struct {
	mu      sync.Mutex
	outside []User               // as they were set, those who are shut out among them
	shut    map[string]time.Time // until when
	seen    map[uint64]int64     // messages of each connection so far
	looked  time.Time            // when they were counted last
	stop    chan struct{}
	done    sync.WaitGroup
}

// watchFloods looks at what users send until the server is stopped.
func (s *Server) watchFloods() {
	f := &s.flood
	f.outside, f.shut, f.seen, f.stop = s.opt.Users, map[string]time.Time{}, map[uint64]int64{}, make(chan struct{})
	f.done.Go(func() {
		each := time.NewTicker(lookEvery)
		defer each.Stop()
		for {
			select {
			case now := <-each.C:
				s.lookForFloods(now)
			case <-f.stop:
				return
			}
		}
	})
}

// lookForFloods shuts out who has sent too much since the last look, and lets
// in again whose time is over.
func (s *Server) lookForFloods(now time.Time) {
	f := &s.flood
	f.mu.Lock()
	defer f.mu.Unlock()
	changed := false
	for name, until := range f.shut {
		if now.After(until) {
			delete(f.shut, name)
			changed = true
			s.log.Info("a user of the bus may come again", "user", name)
		}
	}
	sent := f.since(s.srv, now)
	for _, u := range f.outside {
		if n := sent[u.Name]; u.AtOnce > 0 && n > int64(u.AtOnce) {
			f.shut[u.Name] = now.Add(s.opt.ShutFor)
			changed = true
			s.log.Warn("a user of the bus sends too much and is shut out for a while: look at the device", "user", u.Name,
				"messages", n, "limit", fmt.Sprintf("%d in %s", u.AtOnce, lookEvery), "for", s.opt.ShutFor)
		}
	}
	if changed {
		if err := s.reload(); err != nil {
			s.log.Error("the users of the bus could not be changed", "err", err)
		}
	}
}

// since counts what each user has sent since the last look, on connections that
// are closed again by now as well: whoever sends a burst and goes is one too.
func (f *flood) since(srv *server.Server, now time.Time) map[string]int64 {
	sent, seen := map[string]int64{}, map[uint64]int64{}
	for _, o := range []server.ConnzOptions{
		{Username: true, Limit: mostConns},
		{Username: true, Limit: mostConns, State: server.ConnClosed, Sort: server.ByStop}, // the last ones first
	} {
		conns, err := srv.Connz(&o)
		if err != nil {
			return nil
		}
		for _, c := range conns.Conns {
			if c.Stop != nil && c.Stop.Before(f.looked) {
				break
			}
			sent[c.AuthorizedUser] += c.InMsgs - max(f.seen[c.Cid], seen[c.Cid])
			seen[c.Cid] = c.InMsgs
		}
	}
	f.seen, f.looked = seen, now
	return sent
}

// SetUsers gives the running server other users from outside. Those who stay
// as they are keep their connections; those who are gone, or have another
// password, lose them at once.
func (s *Server) SetUsers(users []User) error {
	s.flood.mu.Lock()
	defer s.flood.mu.Unlock()
	was := s.flood.outside
	s.flood.outside = users
	err := s.reload()
	if err != nil {
		s.flood.outside = was
	}
	return err
}
