package app

import (
	"context"
	"log/slog"
	"time"

	"github.com/nats-io/nats.go"

	"seamwright/services/bus"
	"seamwright/services/fault"
	"seamwright/services/journal/natsd"
)

// Gatepost is where somebody reads a booth's gate: outside the shop's
// program, as a reader of its bus.
type Gatepost struct {
	URL   string // of the bus, with user and password
	Shop  string
	Booth string
	Log   *slog.Logger // nil: slog.Default
}

// Times of a reader.
const (
	lookAgain = 100 * time.Millisecond // so often a verdict is made while nothing comes
	// leap is how far the two clocks of a machine, the one that is set and the
	// one that runs, may part between two looks: beyond it the machine slept.
	leap = time.Second
)

// heardBeat is a message of a gate, and when it came.
type heardBeat struct {
	data []byte
	at   time.Duration
}

// Read tells show the verdict on the booth, again and again, with how many
// messages were heard, until it returns false or the context ends. A bus that
// is away is silence, and silence is HOLD; when it is back the leave that was
// shown before is not shown again (see bus.Latch). One that does not let the
// reader in is a denied fault.
func (g Gatepost) Read(ctx context.Context, show func(v bus.Verdict, heard int) bool) error {
	subject, err := bus.Gate{Shop: g.Shop, Booth: g.Booth}.Subject()
	if err != nil {
		return err
	}
	begun := time.Now()
	came := make(chan heardBeat, 64)
	nc, err := natsd.Dial(g.URL, "seamwright gate", g.Log, nats.RetryOnFailedConnect(true), nats.PingInterval(2*time.Second), nats.MaxPingsOutstanding(2))
	if err != nil {
		return err
	}
	defer nc.Close()
	if _, err := nc.Subscribe(subject, func(m *nats.Msg) {
		select {
		case came <- heardBeat{m.Data, time.Since(begun)}:
		default: // nobody looks; what comes then is judged by its own lateness
		}
	}); err != nil {
		return fault.Wrap(err, fault.Unavailable, "bus-unreachable", "check that the shop's bus runs")
	}
	r := &reading{booth: g.Booth, begun: begun, judge: bus.NewJudge(g.Booth)}
	each := time.NewTicker(lookAgain)
	defer each.Stop()
	for {
		select {
		case m := <-came:
			r.rest()
			r.judge.Take(m.data, m.at)
			r.heard++
		case <-each.C:
			if err := refused(nc); err != nil {
				return err
			}
			r.rest()
		case <-ctx.Done():
			return nil
		}
		if !show(r.verdict(nc), r.heard) {
			return nil
		}
	}
}

// refused is the fault of a reader whom the bus does not let in.
func refused(nc *nats.Conn) error {
	if nc.LastError() == nil || !nc.IsClosed() && nc.Status() != nats.RECONNECTING {
		return nil
	}
	return natsd.Denied(nc.LastError())
}

// reading is a reader at work.
type reading struct {
	booth  string
	begun  time.Time
	judge  *bus.Judge
	latch  bus.Latch
	heard  int
	parted time.Duration // of the clock that is set from the one that runs
}

// rest begins anew when the machine slept: the clock that runs may have stood
// still meanwhile, and what was heard before it is old.
func (r *reading) rest() {
	now := time.Now()
	parted := now.Round(0).Sub(r.begun.Round(0)) - now.Sub(r.begun)
	if (parted - r.parted).Abs() > leap {
		r.judge = bus.NewJudge(r.booth)
	}
	r.parted = parted
}

// verdict is the judge's, and says why nothing is heard if it is known.
func (r *reading) verdict(nc *nats.Conn) bus.Verdict {
	v := r.latch.Show(r.judge.At(time.Since(r.begun)))
	if nc.IsConnected() || v.Sign != bus.Hold {
		return v
	}
	for i, reason := range v.Reasons {
		if reason.Name == bus.HoldSilence {
			v.Reasons[i].Text += "; the bus cannot be reached"
			if err := nc.LastError(); err != nil {
				v.Reasons[i].Text += ": " + err.Error()
			}
		}
	}
	return v
}
