package booth

import (
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/floor"
)

// beat makes the state of every booth's gate and hands it to the watchers; it
// reports whether a permit runs.
func (g *Gate) beat(live floor.Live, now time.Time) (running bool) {
	states := map[floor.BoothID]*boothv1.Gate{}
	g.desk.Writer.View(func(seq uint64) {
		for _, b := range g.desk.Floor.Booths() {
			states[b] = g.state(g.desk.Floor, b, live, now)
			running = running || states[b].GetPermit() != nil
		}
	})
	g.mu.Lock()
	defer g.mu.Unlock()
	for b, s := range states {
		g.beats[b]++
		s.Beat = g.beats[b]
		g.states[b] = s
	}
	close(g.moved)
	g.moved = make(chan struct{})
	return running
}

// latest is the newest beat of a booth and a channel that closes with the
// next one.
func (g *Gate) latest(b floor.BoothID) (*boothv1.Gate, <-chan struct{}) {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.states[b], g.moved
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
		s.Permit, s.LoadId = permit(*p), string(p.Load)
		live.Holding, live.Untouched = p.ID, p.Untouched
		r := f.Gate(p.Load, now, live)
		s.Reasons = reasons(r.Reasons)
		s.Sign = sign(*p, r, g.opt.Holder, now)
		return s
	}
	if len(next) == 0 {
		return s
	}
	s.LoadId = string(next[0])
	r := f.Gate(next[0], now, live)
	s.Reasons, s.ClearAt, s.MaybeAt = reasons(r.Reasons), moment(r.ClearAt), moment(r.MaybeAt)
	return s
}

func sign(p floor.Permit, r floor.Ruling, holder string, now time.Time) boothv1.Sign {
	switch {
	case p.Holder != holder || now.After(p.StartBy):
		return boothv1.Sign_SIGN_HOLD
	case p.Override:
		for _, x := range r.Reasons {
			if beyondOverride(x.Name) {
				return boothv1.Sign_SIGN_HOLD
			}
		}
		return boothv1.Sign_SIGN_OVERRIDE
	case r.Clear():
		return boothv1.Sign_SIGN_CLEAR
	}
	return boothv1.Sign_SIGN_HOLD
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
