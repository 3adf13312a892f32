package booth

import (
	"time"

	"google.golang.org/protobuf/proto"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/floor"
)

// sent is what of a booth went out last.
type sent struct {
	at     time.Time
	number uint64
	sign   boothv1.Sign
	permit string
}

// send hands the states that the watchers see to whoever is outside: each
// once a beat, at once when the sign is another, and not with every event of a
// busy journal. What goes out is numbered by itself, one by one, so that a
// reader sees when something was lost. Only Step calls it.
func (g *Gate) send(states map[floor.BoothID]*boothv1.Gate, now time.Time) {
	if g.opt.Send == nil {
		return
	}
	for b, s := range states {
		last := g.sent[b]
		since := now.Sub(last.at) // below zero after the clock was set back
		if last.number > 0 && since >= 0 && since < g.opt.Beat/2 && last.sign == s.GetSign() && last.permit == s.GetPermit().GetPermitId() {
			continue
		}
		g.sent[b] = sent{now, last.number + 1, s.GetSign(), s.GetPermit().GetPermitId()}
		out := proto.CloneOf(s)
		out.Beat = last.number + 1
		g.opt.Send(out)
	}
}
