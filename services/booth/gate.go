package booth

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/record"
)

// Names of why a permit ended that are not grounds of the gate.
const (
	EndedNewHolder = "new-holder"
	EndedExpired   = "permit-expired"
	EndedReturned  = "returned"
	HeldElsewhere  = "other-holder" // it runs, but another service speaks for it
)

// Options of the gate.
type Options struct {
	Holder  string        // name of this service; letters, digits, - and _
	Lease   time.Duration // longest time from a permit to its spraying; 0: DefaultLease
	Beat    time.Duration // between beats; 0: a second
	HearFor time.Duration // how long a bay's terminal may be silent; 0: the floor's default
	Health  func() error  // more that must be sound beside journal and fold; nil: nothing
	// Quiet leaves out beats while no permit runs, for driven time in which
	// nobody listens second by second; while nobody watches at all the gate's
	// state is not even worked out until somebody asks.
	Quiet bool
}

// DefaultLease is the longest time from a permit to its spraying.
const DefaultLease = 10 * time.Minute

// actor is the name under which the gate speaks.
const actor = "booth-gate"

// Gate keeps the permits of all booths. It is an actor of package clock.
type Gate struct {
	desk *record.Desk
	opt  Options

	watchers atomic.Int64 // streams of beats that are open

	mu     sync.Mutex
	heard  map[string]time.Time
	begun  bool
	lost   map[string][]floor.Reason // by permit: the grounds that fell away, until it is revoked
	beats  map[floor.BoothID]uint64
	states map[floor.BoothID]*boothv1.Gate
	moved  chan struct{} // closed and replaced when a state changed
}

// NewGate makes the gate of the floor behind a desk.
func NewGate(d *record.Desk, o Options) *Gate {
	if o.Lease <= 0 {
		o.Lease = DefaultLease
	}
	if o.Beat <= 0 {
		o.Beat = time.Second
	}
	return &Gate{
		desk: d, opt: o, heard: map[string]time.Time{}, lost: map[string][]floor.Reason{}, beats: map[floor.BoothID]uint64{},
		states: map[floor.BoothID]*boothv1.Gate{}, moved: make(chan struct{}),
	}
}

// Hear notes a sign of life of a terminal that stands in a zone; of others
// nobody asks.
func (g *Gate) Hear(terminal string, at time.Time) {
	known := false
	g.desk.Writer.View(func(uint64) { known = g.desk.Floor.TerminalZone(terminal) != "" })
	if !known {
		return
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	if at.After(g.heard[terminal]) {
		g.heard[terminal] = at
	}
}

// live is what the ruling must know beside the journal. It must not be
// called while the floor is locked.
func (g *Gate) live() floor.Live {
	health := g.desk.Writer.Healthy()
	if health == nil && g.opt.Health != nil {
		health = g.opt.Health()
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	heard := make(map[string]time.Time, len(g.heard))
	for t, at := range g.heard {
		heard[t] = at
	}
	return floor.Live{Health: health, Heard: heard, HearFor: g.opt.HearFor}
}

// Step looks at every running permit, takes back what lost its ground, and
// beats. A permit that could not be taken back holds all the same, and is
// taken back by a later step.
func (g *Gate) Step(ctx context.Context, now time.Time) (time.Time, error) {
	live := g.live()
	var failed error
	running := g.running()
	for _, p := range running {
		failed = errors.Join(failed, g.keep(ctx, p, live))
	}
	if failed == nil {
		g.mu.Lock()
		g.begun = true
		g.mu.Unlock()
	}
	if failed == nil && len(running) == 0 && g.unwatched() {
		return time.Time{}, nil
	}
	left := g.beat(live)
	if failed == nil && !left && g.opt.Quiet {
		return time.Time{}, nil
	}
	return now.Add(g.opt.Beat), failed
}

// unwatched reports whether a quiet gate has nobody to beat for. What it
// showed last is forgotten: the next watcher waits for a state of the present.
func (g *Gate) unwatched() bool {
	if !g.opt.Quiet || g.watchers.Load() > 0 {
		return false
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	clear(g.states)
	return true
}

// running lists the permits that run and forgets what was lost by others.
func (g *Gate) running() (out []floor.Permit) {
	ids := map[string]bool{}
	g.desk.Writer.View(func(uint64) {
		for _, p := range g.desk.Floor.Permits() {
			out = append(out, *p)
			ids[p.ID] = true
		}
	})
	g.mu.Lock()
	defer g.mu.Unlock()
	maps.DeleteFunc(g.lost, func(id string, _ []floor.Reason) bool { return !ids[id] })
	return out
}

// keep leaves a permit running or revokes it. The look is repeated under the
// lock of the writer, so that a permit that was used meanwhile is let be. The
// clock is read under that lock too: a moment from before it may lie before
// the newest event, which would look like a clock that was set back.
func (g *Gate) keep(ctx context.Context, p floor.Permit, live floor.Live) error {
	var lost []floor.Reason
	g.desk.Writer.View(func(uint64) { lost = g.fallen(g.desk.Floor, p, live, g.desk.Clock.Now()) })
	if len(lost) == 0 {
		return nil
	}
	g.mu.Lock()
	g.lost[p.ID] = lost
	g.mu.Unlock()
	_, err := g.desk.Writer.Do(ctx, func(seq uint64) ([]floor.Event, error) {
		f := g.desk.Floor
		if r := f.Permit(p.Booth); r == nil || r.ID != p.ID {
			return nil, nil
		}
		return []floor.Event{revocation(f, p, reasonNames(lost), reasonTexts(lost), seq, g.desk.Clock.Now())}, nil
	})
	return err
}

// fallen lists the grounds for which this service takes a permit back.
// Another service's permit is its own to keep, once this one has begun.
func (g *Gate) fallen(f *floor.Floor, p floor.Permit, live floor.Live, now time.Time) []floor.Reason {
	g.mu.Lock()
	begun := g.begun
	g.mu.Unlock()
	rs := g.lacks(f, p, live, now)
	if p.Holder != g.opt.Holder && len(rs) == 1 && rs[0].Name == HeldElsewhere {
		if begun {
			return nil
		}
		return []floor.Reason{{Name: EndedNewHolder, Text: fmt.Sprintf("%s has taken over from %s", g.opt.Holder, p.Holder)}}
	}
	return rs
}

// lacks lists what a running permit lacks: nothing while it may be used. What
// it once lacked it lacks for good.
func (g *Gate) lacks(f *floor.Floor, p floor.Permit, live floor.Live, now time.Time) []floor.Reason {
	g.mu.Lock()
	lost := g.lost[p.ID]
	g.mu.Unlock()
	switch {
	case len(lost) > 0:
		return lost
	case now.After(p.StartBy):
		return []floor.Reason{{Name: EndedExpired, Text: fmt.Sprintf("not used by %s", p.StartBy.UTC().Format("15:04"))}}
	case p.Holder != g.opt.Holder:
		return []floor.Reason{{Name: HeldElsewhere, Text: fmt.Sprintf("%s keeps the permit for load %s; ask there, or give it back", p.Holder, p.Load)}}
	}
	live.Holding, live.Untouched = p.ID, p.Untouched
	r := rule(f, p.Booth, p.Load, now, live)
	if p.Override {
		return slices.DeleteFunc(r.Reasons, func(x floor.Reason) bool { return !beyondOverride(x.Name) })
	}
	return r.Reasons
}

// rule is the floor's ruling on a load at a booth. Beside what the floor
// says, a load is sprayed in the booth that it is planned for, and under one
// permit.
func rule(f *floor.Floor, booth floor.BoothID, load floor.LoadID, now time.Time, live floor.Live) floor.Ruling {
	r := f.Gate(load, now, live)
	hold := func(name string, b floor.BoothID, text string) {
		r.Reasons = append(r.Reasons, floor.Reason{Name: name, Subject: b.Subject(), Text: text})
		r.ClearAt, r.MaybeAt = time.Time{}, time.Time{}
	}
	if l := f.Load(load); l != nil && l.Booth != booth {
		hold(floor.HoldWrongBooth, booth, fmt.Sprintf("load %s is planned for booth %s; plan it for %s first", load, l.Booth, booth))
	}
	for _, p := range f.Permits() {
		if p.Load == load && p.Booth != booth {
			hold(floor.HoldBoothPermitted, p.Booth, fmt.Sprintf("a permit for load %s is running at booth %s; give it back", load, p.Booth))
		}
	}
	if !r.Asked && len(r.Reasons) == 0 {
		hold(floor.HoldPanic, booth, "the gate was not evaluated; tell whoever looks after the program")
	}
	return r
}

// beyondOverride: no foreman can answer for these.
func beyondOverride(name string) bool {
	switch name {
	case floor.HoldLoadUnknown, floor.HoldBoothUnknown, floor.HoldBoothFault, floor.HoldBoothBusy, floor.HoldBoothPermitted,
		floor.HoldLoadSprayed, floor.HoldJobEnded, floor.HoldUnhealthy, floor.HoldClock, floor.HoldPanic, floor.HoldWrongBooth:
		return true
	}
	return false
}

func reasonNames(rs []floor.Reason) []string {
	var out []string
	for _, r := range rs {
		out = append(out, strings.TrimSpace(r.Name+" "+r.Subject))
	}
	return out
}

func reasonTexts(rs []floor.Reason) string {
	var out []string
	for _, r := range rs {
		out = append(out, r.Text)
	}
	text := strings.Join(out, "; ")
	if len(text) > 1900 {
		text = text[:1900] + " ..."
	}
	return strings.ToValidUTF8(text, "")
}

func revocation(f *floor.Floor, p floor.Permit, names []string, why string, seq uint64, now time.Time) floor.Event {
	ev := f.Own(actor, fmt.Sprintf("gate.revoke.%s.%d", p.ID, seq+1), now)
	ev.Aggregate = p.Booth.Aggregate()
	ev.Body = &boothv1.PermitRevoked{PermitId: p.ID, BoothId: string(p.Booth), LoadId: string(p.Load), Reasons: names, Why: why}
	return ev
}

// needLive refuses permissions asked for after the fact.
func needLive(h floor.Header) error {
	if h.AgeKind != floor.AgeLive {
		return fault.Bad("stamp.age.kind", h.AgeKind, "must be live: leave to spray is given for now, not for the past")
	}
	return nil
}
