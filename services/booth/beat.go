package booth

import (
	"slices"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/floor"
)

// beat makes the state of every booth's gate and hands it to the watchers; it
// reports whether a permit runs.
func (g *Gate) beat(live floor.Live) (running bool) {
	states := map[floor.BoothID]*boothv1.Gate{}
	var now time.Time
	g.desk.Writer.View(func(uint64) {
		now = g.desk.Clock.Now()
		for _, b := range g.desk.Floor.Booths() {
			states[b] = g.sure(g.desk.Floor, b, live, now)
			running = running || states[b].GetPermit() != nil
		}
	})
	g.show(states)
	g.send(states, now)
	return running
}

// show hands the states to the watchers.
func (g *Gate) show(states map[floor.BoothID]*boothv1.Gate) {
	g.mu.Lock()
	defer g.mu.Unlock()
	for b, s := range states {
		g.beats[b]++
		s.Beat = g.beats[b]
		g.states[b] = s
	}
	close(g.moved)
	g.moved = make(chan struct{})
}

// latest is the newest beat of a booth and a channel that closes with the
// next one.
func (g *Gate) latest(b floor.BoothID) (*boothv1.Gate, <-chan struct{}) {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.states[b], g.moved
}

// sure is state, with a panic as one more reason to hold: the beat must come
// all the same.
func (g *Gate) sure(f *floor.Floor, b floor.BoothID, live floor.Live, now time.Time) (s *boothv1.Gate) {
	defer func() {
		if p := recover(); p != nil {
			s = &boothv1.Gate{
				BoothId: string(b), Holder: g.opt.Holder, Sign: boothv1.Sign_SIGN_HOLD, Sequence: f.Seq(), Now: timestamppb.New(now),
				Reasons: reasons([]floor.Reason{failed(b, p)}),
			}
		}
	}()
	return g.state(f, b, live, now)
}

// state is what a booth's gate shows at a moment. Anything but a permit that
// this service keeps alive, with all its grounds, is HOLD.
func (g *Gate) state(f *floor.Floor, b floor.BoothID, live floor.Live, now time.Time) *boothv1.Gate {
	s := &boothv1.Gate{BoothId: string(b), Holder: g.opt.Holder, Sign: boothv1.Sign_SIGN_HOLD, Sequence: f.Seq(), Now: timestamppb.New(now)}
	booth := f.Booth(b)
	if booth == nil {
		return s
	}
	s.Phase = booth.Phase
	next := f.NextLoads(b)
	for _, l := range next {
		s.NextLoads = append(s.NextLoads, string(l))
	}
	if p := f.Permit(b); p != nil {
		g.permitted(s, f, *p, live, now)
		return s
	}
	s.Lost = lost(f, b, now)
	if len(next) == 0 {
		return s
	}
	s.LoadId = string(next[0])
	r := guarded(f, b, next[0], now, live)
	s.Reasons, s.ClearAt, s.MaybeAt = reasons(r.Reasons), moment(r.ClearAt), moment(r.MaybeAt)
	return s
}

// lostShown is how long it is told that a permit was taken back: whoever stood
// at the gun with it has seen it by then, or asks anew.
const lostShown = 10 * time.Minute

// lost is a booth's last permit, if it was taken back lately from somebody who
// did not give it back and has not sprayed.
func lost(f *floor.Floor, b floor.BoothID, now time.Time) *boothv1.LostPermit {
	p, ended := f.LastPermit(b)
	if p == nil || p.Revoked == "" || slices.Contains(p.Grounds, EndedReturned) || now.Sub(ended) >= lostShown {
		return nil
	}
	if l := f.Load(p.Load); l == nil || !l.Sprayed.IsZero() {
		return nil
	}
	return &boothv1.LostPermit{PermitId: p.ID, LoadId: string(p.Load), At: timestamppb.New(ended), Why: p.Lost()}
}

// permitted shows a running permit: an override with all that it goes over.
func (g *Gate) permitted(s *boothv1.Gate, f *floor.Floor, p floor.Permit, live floor.Live, now time.Time) {
	lacks := g.lacks(f, p, live, now)
	s.Permit, s.LoadId, s.Reasons = permit(p), string(p.Load), reasons(lacks)
	s.Sign = sign(p, g.opt.Holder, len(lacks) == 0)
	if s.Sign == boothv1.Sign_SIGN_OVERRIDE {
		live.Holding, live.Untouched = p.ID, p.Untouched
		s.Reasons = reasons(guarded(f, p.Booth, p.Load, now, live).Reasons)
	}
}

// sign is what a permit of this holder shows while it lacks nothing.
func sign(p floor.Permit, holder string, sound bool) boothv1.Sign {
	switch {
	case !sound || p.ID == "" || p.Holder != holder:
		return boothv1.Sign_SIGN_HOLD
	case p.Override:
		return boothv1.Sign_SIGN_OVERRIDE
	}
	return boothv1.Sign_SIGN_CLEAR
}

func permit(p floor.Permit) *boothv1.Permit {
	return &boothv1.Permit{
		PermitId: p.ID, BoothId: string(p.Booth), LoadId: string(p.Load), StartBy: timestamppb.New(p.StartBy), Override: p.Override,
	}
}

func reasons(rs []floor.Reason) []*boothv1.Reason {
	var out []*boothv1.Reason
	for _, r := range rs {
		out = append(out, &boothv1.Reason{Name: r.Name, Subject: r.Subject, Text: r.Text, Until: moment(r.Until), Maybe: moment(r.Maybe)})
	}
	return out
}

func moment(t time.Time) *timestamppb.Timestamp {
	if t.IsZero() {
		return nil
	}
	return timestamppb.New(t)
}
