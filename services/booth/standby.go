package booth

import (
	"context"
	"fmt"
	"slices"
	"sync"
	"time"

	"seamwright/services/fault"
	"seamwright/services/floor"
)

// Times of several booth services beside each other.
const (
	// silent is how long the active service may be silent before another
	// takes over, and how long a service that starts listens first.
	silent = 3 * time.Second
	// deaf is how old the newest sign of life of one's own may be that came
	// back over the bus: beyond it a service does not know what others hear.
	// It is no more than Silence, so that one that is cut off from the bus holds
	// when its readers do, and less than silent, so that it holds before another
	// takes over.
	deaf = Silence
	// recent is how old that sign may be of a service that takes over: signs
	// go out each half second, so an older one means that it lost the bus, and
	// that the silence it hears may be its own. One may be lost.
	recent = 1100 * time.Millisecond
)

// Other is another booth service that was heard within the last 6 s.
type Other struct {
	Instance string
	Started  time.Time // by its own clock; two that started at once are told apart by their names
	Active   bool
	Heard    time.Time // when its newest sign of life came, by the listener's clock
}

// Standing is what a booth service is among several: whether it speaks for
// the gates, and why it must hold.
type Standing struct {
	Active bool
	Hold   error // nil: it may give leave
}

// Stand decides which of several booth services of a shop speaks. One does,
// the others stand by. When it is silent for 3 s, the one that started first
// of those that stand by takes over; where two find each other active, the
// one that started later steps back, and both hold meanwhile. One that loses
// the bus holds, and stands by when it is back. The fence is not
// here: a permit is appended behind exactly the event that its decision saw,
// so two that are wrong about each other cannot both be right about a booth.
// Its methods may be called from many goroutines.
type Stand struct {
	mine Other

	mu    sync.Mutex
	hears time.Time // since when this service has heard itself without a break
}

// NewStand makes the stand of a service. One that is active at once does not
// listen first: for a shop whose bus is this process's own.
func NewStand(instance string, started time.Time, atOnce bool) *Stand {
	return &Stand{mine: Other{Instance: instance, Started: started, Active: atOnce}}
}

// Look judges at a moment from the others that are alive and from when the
// newest of one's own signs of life was sent that came back.
func (s *Stand) Look(now time.Time, others []Other, echo time.Time) Standing {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.mine.Active && echo.IsZero() { // active at once, and the first sign is still under way
		if s.hears.IsZero() {
			s.hears = now
		}
		echo = s.hears
	}
	age := now.Sub(echo)
	if s.mine.Active {
		return s.speaking(alive(others, now), age <= deaf)
	}
	// What is not heard counts only up to the newest moment at which this
	// service surely was on the bus itself.
	return s.listening(echo, alive(others, echo), age <= recent)
}

// speaking is the look of an active service.
func (s *Stand) speaking(others []Other, heard bool) Standing {
	rival, ok := first(others, func(o Other) bool { return o.Active })
	switch {
	case ok && before(rival, s.mine):
		s.mine.Active, s.hears = false, time.Time{}
		return Standing{Hold: elsewhere(rival.Instance)}
	case ok:
		return Standing{Active: true, Hold: fault.New(fault.Unavailable, floor.HoldOtherHolder,
			fmt.Sprintf("booth service %s speaks for the gates as well", rival.Instance), "it started later and steps back within seconds; ask again")}
	case !heard: // another may have taken over: listen before speaking again
		s.mine.Active, s.hears = false, time.Time{}
		return Standing{Hold: unheard()}
	}
	return Standing{Active: true}
}

// listening is the look of a service that stands by. It must have listened
// for as long as an active one may be silent before it takes over.
func (s *Stand) listening(at time.Time, others []Other, heard bool) Standing {
	switch {
	case !heard:
		s.hears = time.Time{}
	case s.hears.IsZero():
		s.hears = at
	}
	if active, ok := first(others, func(o Other) bool { return o.Active }); ok {
		return Standing{Hold: elsewhere(active.Instance)}
	}
	if !heard {
		return Standing{Hold: unheard()}
	}
	next, waits := first(others, func(o Other) bool { return before(o, s.mine) })
	if at.Sub(s.hears) >= silent && !waits {
		s.mine.Active = true
		return Standing{Active: true}
	}
	who := s.mine.Instance
	if waits {
		who = next.Instance
	}
	return Standing{Hold: fault.New(fault.Unavailable, floor.HoldOtherHolder,
		fmt.Sprintf("no booth service speaks for the gates yet; %s takes over when none was heard for %s", who, silent), "ask again in a moment")}
}

func elsewhere(other string) error {
	return fault.New(fault.Unavailable, floor.HoldOtherHolder, fmt.Sprintf("booth service %s speaks for the gates, this one stands by", other), "ask there")
}

func unheard() error {
	return fault.New(fault.Unavailable, floor.HoldBusSilent, fmt.Sprintf("the booth service has not heard itself over the bus for %s", deaf),
		"look at the bus's server and the network to it")
}

// alive lists those that had not been silent for too long at a moment.
func alive(others []Other, at time.Time) []Other {
	return slices.DeleteFunc(slices.Clone(others), func(o Other) bool { return at.Sub(o.Heard) > silent })
}

// before orders services by when they started.
func before(a, b Other) bool {
	if !a.Started.Equal(b.Started) {
		return a.Started.Before(b.Started)
	}
	return a.Instance < b.Instance
}

// first is the one that started first of those that match.
func first(others []Other, match func(Other) bool) (Other, bool) {
	var out []Other
	for _, o := range others {
		if match(o) {
			out = append(out, o)
		}
	}
	if len(out) == 0 {
		return Other{}, false
	}
	return slices.MinFunc(out, func(a, b Other) int {
		if before(a, b) {
			return -1
		}
		return 1
	}), true
}

// standing is what this service is among several; alone it speaks.
func (g *Gate) standing() Standing {
	if g.opt.Standing == nil {
		return Standing{Active: true}
	}
	return g.opt.Standing()
}

// turn notes whether this service speaks. One that begins to speak takes the
// permits of whoever spoke before it back at its next look; one that ends to
// shows nothing any more.
func (g *Gate) turn(active bool) {
	g.mu.Lock()
	defer g.mu.Unlock()
	switch {
	case active && !g.spoke:
		g.begun = false
	case !active:
		clear(g.states)
	}
	g.spoke = active
}

// stepBack takes back the permits that this service still keeps alive though
// it does not speak any more, by the names of all that is wrong. Others' are
// for whoever speaks.
func (g *Gate) stepBack(ctx context.Context, s Standing) error {
	var mine []floor.Permit
	for _, p := range g.running() {
		if p.Holder == g.opt.Holder {
			mine = append(mine, p)
		}
	}
	g.look(mine, g.live())
	for _, p := range mine {
		if s.Hold == nil {
			g.lose(p.ID, []floor.Reason{{Name: floor.HoldOtherHolder, Subject: "gate", Text: "another booth service speaks for the gates"}})
		}
	}
	return g.revoke(ctx, mine)
}
