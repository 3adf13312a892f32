package bus

import (
	"cmp"
	"slices"
	"sync"
	"time"
)

// Silence is how long a service may be silent before it counts as gone.
const Silence = 3 * time.Second

// offsets is how many of a peer's last signs its clock is judged by.
const offsets = 5

// Peer is a service that was heard within Silence.
type Peer struct {
	Life
	Heard time.Time // when its newest sign came, by the listener's running clock

	// Ahead is how far its time of day is before the listener's: at least that
	// far, since a sign that was long under way looks like a clock that is behind.
	// The best of its last few signs.
	Ahead time.Duration
	Signs int // how many of its last signs that is judged by
}

// Peers is the table of the services of a shop that are alive, as one
// process hears them. Its methods may be called from many goroutines.
type Peers struct {
	mu      sync.Mutex
	all     map[peerKey]*heardPeer
	changed chan struct{} // closed and replaced when a sign says something new
}

type peerKey struct{ service, instance string }

type heardPeer struct {
	life  Life
	at    time.Time
	ahead []time.Duration // of its last signs
	gone  bool            // it has been silent for too long, and that was told
}

// NewPeers makes an empty table.
func NewPeers() *Peers {
	return &Peers{all: map[peerKey]*heardPeer{}, changed: make(chan struct{})}
}

// Hear takes a sign of life in, at the moment of its arrival by the listener's
// running clock, which nobody sets, and by its time of day. One that says that
// its service goes away takes it out at once.
func (p *Peers) Hear(l Life, at, day time.Time) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.forget(at)
	k := peerKey{l.Service, l.Instance}
	before := p.all[k]
	if l.Stopping {
		delete(p.all, k)
		if before != nil {
			p.tell()
		}
		return
	}
	h := before
	if h == nil {
		h = &heardPeer{}
		p.all[k] = h
	}
	news := before == nil || h.gone || h.life.Active != l.Active || h.life.Address != l.Address
	h.life, h.at, h.gone = l, at, false
	h.ahead = append(h.ahead, l.Now.Sub(day))
	if n := len(h.ahead); n > offsets {
		h.ahead = slices.Delete(h.ahead, 0, n-offsets)
	}
	if news {
		p.tell()
	}
}

// forget notices what has been silent, and drops it a while later. The caller
// holds the lock.
func (p *Peers) forget(now time.Time) {
	for k, h := range p.all {
		silent := now.Sub(h.at)
		if silent > Silence && !h.gone {
			h.gone = true
			p.tell()
		}
		if silent > 2*Silence {
			delete(p.all, k)
		}
	}
}

func (p *Peers) tell() {
	close(p.changed)
	p.changed = make(chan struct{})
}

// Of lists the live services of a name at a moment, the active ones first,
// then by when they started; all services for an empty name. The channel
// closes when a later sign says something new, or a later call finds one gone.
func (p *Peers) Of(service string, now time.Time) ([]Peer, <-chan struct{}) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.forget(now)
	return p.since(service, now.Add(-Silence)), p.changed
}

// Lately lists the services of a name that were heard within twice Silence,
// in the order of Of: for who must know whether one was alive a moment ago.
func (p *Peers) Lately(service string, now time.Time) []Peer {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.forget(now)
	return p.since(service, now.Add(-2*Silence))
}

func (p *Peers) since(service string, from time.Time) (out []Peer) {
	for k, h := range p.all {
		if (service == "" || k.service == service) && !h.at.Before(from) {
			out = append(out, Peer{Life: h.life, Heard: h.at, Ahead: slices.Max(h.ahead), Signs: len(h.ahead)})
		}
	}
	slices.SortFunc(out, func(a, b Peer) int {
		return cmp.Or(cmp.Compare(a.Service, b.Service), -compareBool(a.Active, b.Active), a.Started.Compare(b.Started), cmp.Compare(a.Instance, b.Instance))
	})
	return out
}

func compareBool(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return 1
	}
	return -1
}
