package booth

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"seamwright/services/floor"
	"seamwright/services/journal"
)

// revokeWithin is how long the journal may take to store what a step takes
// back. A beat and this time together stay well below Silence.
const revokeWithin = 600 * time.Millisecond

// look notes what the running permits lack at the floor's newest event, and
// lists those that are to be taken back.
func (g *Gate) look(running []floor.Permit, live floor.Live) (out []floor.Permit) {
	for _, p := range running {
		var lost []floor.Reason
		// The clock is read under the floor's lock: a moment from before it may
		// lie before the newest event, which would look like a clock that was
		// set back.
		g.desk.Writer.View(func(uint64) { lost = g.fallen(g.desk.Floor, p, live, g.desk.Clock.Now()) })
		if g.lose(p.ID, lost); len(lost) > 0 {
			out = append(out, p)
		}
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	g.looked = g.time()
	g.looks++
	return out
}

// lose notes what a permit has lost, beside what it lost before.
func (g *Gate) lose(id string, why []floor.Reason) {
	g.mu.Lock()
	defer g.mu.Unlock()
	for _, r := range why {
		if !slices.ContainsFunc(g.lost[id], func(x floor.Reason) bool { return x.Name == r.Name && x.Subject == r.Subject }) {
			g.lost[id] = append(slices.Clip(g.lost[id]), r)
		}
	}
}

// event looks at this service's permits at each event on the way: a ground
// that one event takes away and the next gives back is lost all the same. It
// is called under the floor's lock.
func (g *Gate) event(uint64) {
	f := g.desk.Floor
	ps := f.Permits()
	if len(ps) == 0 {
		return
	}
	g.mu.Lock()
	begun, live := g.begun, floor.Live{Heard: maps.Clone(g.heard), HearFor: g.opt.HearFor, Jumps: g.jumps()}
	g.mu.Unlock()
	for _, p := range ps {
		if !begun || p.Holder != g.opt.Holder {
			continue
		}
		// What is told now was told by a clock that may be a little ahead.
		now := latest(g.desk.Clock.Now(), f.Last())
		g.lose(p.ID, g.grounds(f, *p, live, now))
	}
}

// revoke takes permits back. Each is looked at again under the lock of the
// writer, so that one that was used meanwhile is let be. It takes no longer
// than revokeWithin, so that a journal that does not answer does not silence
// the gate.
func (g *Gate) revoke(ctx context.Context, lost []floor.Permit) (failed error) {
	if len(lost) == 0 {
		return nil
	}
	if g.opt.Running != nil {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, revokeWithin)
		defer cancel()
	}
	for _, p := range lost {
		why := g.lostBy(p.ID)
		_, err := g.desk.Writer.Do(journal.Urgent(ctx), func(seq uint64) ([]floor.Event, error) {
			f := g.desk.Floor
			if r := f.Permit(p.Booth); r == nil || r.ID != p.ID {
				return nil, nil
			}
			return []floor.Event{revocation(f, p, reasonNames(why), reasonTexts(why), seq, g.desk.Clock.Now())}, nil
		})
		failed = errors.Join(failed, err)
	}
	return failed
}

// fallen lists the grounds for which this service takes a permit back.
// Another service's permit is its own to keep, once this one has begun.
func (g *Gate) fallen(f *floor.Floor, p floor.Permit, live floor.Live, now time.Time) []floor.Reason {
	g.mu.Lock()
	begun, lost := g.begun, slices.Clip(g.lost[p.ID])
	g.mu.Unlock()
	rs := g.grounds(f, p, live, now)
	if p.Holder == g.opt.Holder || len(rs) != 1 || rs[0].Name != HeldElsewhere {
		return append(lost, rs...)
	}
	if begun {
		return lost
	}
	return append(lost, floor.Reason{Name: EndedNewHolder, Text: fmt.Sprintf("%s has taken over from %s", g.opt.Holder, p.Holder)})
}

// lacks lists what a running permit lacks: nothing while it may be used. What
// it once lacked it lacks for good.
func (g *Gate) lacks(f *floor.Floor, p floor.Permit, live floor.Live, now time.Time) []floor.Reason {
	if lost := g.lostBy(p.ID); len(lost) > 0 {
		return lost
	}
	return g.grounds(f, p, live, now)
}

// grounds lists what stands against a running permit at a moment.
func (g *Gate) grounds(f *floor.Floor, p floor.Permit, live floor.Live, now time.Time) []floor.Reason {
	switch {
	case latest(now, f.Last()).After(p.StartBy):
		return []floor.Reason{{Name: EndedExpired, Text: fmt.Sprintf("not used by %s", p.StartBy.UTC().Format("15:04"))}}
	case p.Holder != g.opt.Holder:
		return []floor.Reason{{Name: HeldElsewhere, Text: fmt.Sprintf("%s keeps the permit for load %s; ask there, or give it back", p.Holder, p.Load)}}
	}
	live.Holding, live.Untouched = p.ID, p.Untouched
	r := guarded(f, p.Booth, p.Load, now, live)
	if p.Override {
		return slices.DeleteFunc(r.Reasons, func(x floor.Reason) bool { return !beyondOverride(x.Name) && !cameUp(f, p, x) })
	}
	return r.Reasons
}
