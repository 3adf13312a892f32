package app

import (
	"context"
	"errors"
	"time"

	"github.com/nats-io/nats.go"
	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/booth"
	"seamwright/services/bus"
	"seamwright/services/clock"
	"seamwright/services/cures"
	"seamwright/services/fault"
	"seamwright/services/journal/natsd"
	"seamwright/services/probes"
)

// onBus reports whether others can be on the shop's bus.
func (o Options) onBus() bool { return o.Apart != nil || o.Bus != "" || o.MQTT != "" }

// meets reports whether this process meets the world over the bus. A shop in
// driven time does not: what it says is not about any real booth, and a real
// probe is not in it.
func (a *App) meets() bool {
	_, driven := a.opt.Clock.(*clock.Driven)
	return !driven && a.store.conn != nil && a.opt.onBus()
}

// probesGroup is the queue group of a shop's services of the cures: each
// message of a probe goes to one of them.
const probesGroup = "cures"

// takeProbes records what probes send, while the shop runs.
func (a *App) takeProbes(s *cures.Server) error {
	if !a.meets() {
		return nil
	}
	in := probes.New(probes.Options{
		Shop: a.opt.Shop, Clock: a.opt.Clock.Now, Log: a.opt.Log,
		Take: func(ctx context.Context, r probes.Reading) error {
			_, err := s.TakeReading(ctx, &floorv1.Stamp{
				CommandId: r.ID, Actor: "probe " + r.Probe, Role: floorv1.Role_ROLE_MACHINE, Terminal: r.Probe,
			}, &curesv1.ReadingTaken{ZoneId: r.Zone, ProbeId: r.Probe, TempC: r.TempC, RhPercent: r.RHPercent, SurfaceC: r.SurfaceC}, r.At)
			return err
		},
	})
	subject, err := bus.Probes(a.opt.Shop)
	if err != nil {
		return err
	}
	conn, err := a.connectProbes()
	if err != nil {
		return err
	}
	a.running.Go(func() {
		defer conn.Close()
		in.Run(a.ctx)
	})
	sub, err := conn.QueueSubscribe(subject, probesGroup, func(m *nats.Msg) { in.Hear(m.Subject, m.Data) })
	if err == nil {
		err = sub.SetPendingLimits(probesWait, probesWaitBytes)
	}
	if err != nil {
		return fault.Wrap(err, fault.Unavailable, "bus-unreachable", "check that the shop's server runs")
	}
	return nil
}

// Messages of probes that wait to be looked at; what comes on top is lost.
const (
	probesWait      = 8192
	probesWaitBytes = 8 << 20
)

// connectProbes makes a connection for what probes send: a flood of it must
// not stand before the journal's answers, or cost the journal its connection.
func (a *App) connectProbes() (*nats.Conn, error) {
	if a.store.server != nil {
		return a.store.server.Connect("probes")
	}
	return natsd.Dial(a.opt.Apart.NATS, "seamwright probes", a.opt.Log, habits(a.opt)...)
}

// Beats that wait for the connection. One that others have followed is no
// sign of life any more.
const (
	beatsWait = 64
	beatStale = 2 * bus.BeatEvery
)

// outgoing is a beat on its way, and since when.
type outgoing struct {
	subject string
	data    []byte
	since   time.Time
}

// sendBeats lets a gate's beats out over the bus. The gate never waits for
// the connection; a beat that cannot go now does not go later, and readers
// take the silence for HOLD.
func (a *App) sendBeats(o *booth.Options) {
	if !a.meets() {
		return
	}
	out := make(chan outgoing, beatsWait)
	o.Send = func(g *boothv1.Gate) {
		subject, err := bus.Gate{Shop: a.opt.Shop, Booth: g.GetBoothId()}.Subject()
		data, bad := beatOf(g).Encode()
		if err := errors.Join(err, bad); err != nil {
			a.opt.Log.Error("a beat of the gate cannot be sent", "booth", g.GetBoothId(), "err", err)
			return
		}
		select {
		case out <- outgoing{subject, data, time.Now()}:
		default:
		}
	}
	a.running.Go(func() {
		for {
			select {
			case b := <-out:
				if time.Since(b.since) < beatStale {
					_ = a.store.conn.Publish(b.subject, b.data) // what cannot be sent is silence
				}
			case <-a.ctx.Done():
				return
			}
		}
	})
}

// beatOf is the state of a gate in the form of the bus.
func beatOf(g *boothv1.Gate) bus.Beat {
	b := bus.Beat{
		Booth: g.GetBoothId(), Holder: g.GetHolder(), Number: g.GetBeat(), Sign: signNames[g.GetSign()], Load: g.GetLoadId(),
		Permit: g.GetPermit().GetPermitId(), StartBy: timeOf(g.GetPermit().GetStartBy()),
		Sequence: g.GetSequence(), Now: timeOf(g.GetNow()),
	}
	if b.Sign == "" {
		b.Sign = bus.Hold
	}
	if l := g.GetLost(); l != nil {
		b.Reasons = append(b.Reasons, bus.Reason{
			Name: bus.HoldPermitLost, Subject: "load/" + l.GetLoadId(),
			Text: "the permit for " + l.GetLoadId() + " was taken back at " + timeOf(l.GetAt()).Format("15:04") + " (UTC): " + l.GetWhy(),
		})
	}
	for _, r := range g.GetReasons() {
		b.Reasons = append(b.Reasons, bus.Reason{
			Name: r.GetName(), Subject: r.GetSubject(), Text: r.GetText(), Until: timeOf(r.GetUntil()), Maybe: timeOf(r.GetMaybe()),
		})
	}
	return b
}

// signNames are the signs as the bus has them; whatever else there may be holds.
var signNames = map[boothv1.Sign]bus.Sign{
	boothv1.Sign_SIGN_CLEAR: bus.Clear, boothv1.Sign_SIGN_OVERRIDE: bus.Override, boothv1.Sign_SIGN_HOLD: bus.Hold,
}

// timeOf is a moment, the zero time when there is none.
func timeOf(t *timestamppb.Timestamp) time.Time {
	if t == nil {
		return time.Time{}
	}
	return t.AsTime()
}
