package probes

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"seamwright/services/bus"
	"seamwright/services/fault"
	"seamwright/services/intake"
)

// Limits of what is taken. A probe that catches up on a day has some hundreds
// of readings at once; one that runs wild shuts out itself, and does not fill
// the journal with moments that are each a little different.
const (
	burst     = 1000        // messages of one probe at once
	everyOne  = time.Second // and then one in this time
	waitOfAll = 4000        // messages of all probes that wait to be recorded
)

// ahead is how far a probe's clock may be before the shop's: two machines that
// set their clocks by the network differ by less.
const ahead = 2 * time.Second

// within is how long one reading may take to be recorded.
const within = 30 * time.Second

// Reading is one reading on its way to the journal. At is when it was read,
// or when it was heard if the probe did not say.
type Reading struct {
	Zone, Probe string
	ID          string // command id: the same when the probe sends the same reading again
	intake.Reading
}

// Options of the intake.
type Options struct {
	Shop  string
	Clock func() time.Time                     // the shop's clock
	Take  func(context.Context, Reading) error // records one reading
	Log   *slog.Logger
}

// Intake hears probes. Hear may be called from many goroutines; Run from one.
type Intake struct {
	opt  Options
	wait chan message

	mu     sync.Mutex
	counts map[string]*count
	spare  count // of probes beyond the number that is counted one by one
}

// message is what was heard and when.
type message struct {
	from    bus.Probe
	payload []byte
	at      time.Time
	count   *count
}

// New makes an intake; it takes readings while Run runs.
func New(o Options) *Intake {
	return &Intake{opt: o, wait: make(chan message, waitOfAll), counts: map[string]*count{}}
}

// Hear takes a message of the bus in. It does not block, and notes the moment.
// The payload is the caller's; no more of it is kept than a message may have.
func (i *Intake) Hear(subject string, payload []byte) {
	from, err := bus.ParseProbe(subject)
	if err != nil || from.Shop != i.opt.Shop {
		i.refuse(nil, subject, fault.Bad("subject", fmt.Sprintf("%.120q", subject), "probe."+i.opt.Shop+".<zone>.<probe>"))
		return
	}
	c := i.countOf(from)
	if !i.allow(c) {
		i.refuse(c, name(from), full(fmt.Sprintf("more than %d at once and one a second", burst)))
		return
	}
	m := message{from: from, payload: append([]byte(nil), payload[:min(len(payload), intake.MaxProbeBytes+1)]...), at: i.opt.Clock(), count: c}
	select {
	case i.wait <- m:
	default:
		i.refuse(c, name(from), full(fmt.Sprintf("%d messages of all probes wait to be recorded", waitOfAll)))
	}
}

func full(what string) error {
	return fault.New(fault.Unavailable, "too-many-messages", "too many messages: "+what, "let it send less often, or look why the journal is slow")
}

// Run records what was heard, one by one in the order of receipt, until the
// context ends.
func (i *Intake) Run(ctx context.Context) {
	tell := time.NewTicker(logEvery)
	defer tell.Stop()
	for {
		select {
		case m := <-i.wait:
			if err := i.take(ctx, m); err != nil && ctx.Err() == nil {
				i.refuse(m.count, name(m.from), err)
			}
		case <-tell.C:
			i.tellAll()
		case <-ctx.Done():
			return
		}
	}
}

// take records one message. A panic is a fault of this message and no more.
func (i *Intake) take(ctx context.Context, m message) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fault.New(fault.Internal, "panic", fmt.Sprint("panic: ", p), "tell whoever looks after the program")
		}
	}()
	r, err := i.reading(m)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, within)
	defer cancel()
	if err := i.opt.Take(ctx, r); err != nil {
		return err
	}
	m.count.taken.Add(1)
	return nil
}

// reading places a message in time. The command id of a reading with its time
// is made of probe and time, so that one that is sent again takes effect once.
func (i *Intake) reading(m message) (Reading, error) {
	told, err := intake.ReadProbe(name(m.from), m.payload)
	if err != nil {
		return Reading{}, err
	}
	r := Reading{Zone: m.from.Zone, Probe: m.from.Probe, Reading: told}
	if !told.Timed() {
		r.At, r.ID = m.at, "probe-heard-"+rand.Text()
		return r, nil
	}
	sum := sha256.Sum256(fmt.Appendf(nil, "%s|%s|%s|%d", m.from.Shop, r.Zone, r.Probe, told.At.UnixNano()))
	r.ID = "probe-" + hex.EncodeToString(sum[:16])
	if by := told.At.Sub(m.at); by > ahead {
		return Reading{}, fault.Bad(name(m.from)+" time", told.At.Format(time.RFC3339Nano),
			fmt.Sprintf("not after the shop's clock, %s, by more than %s; set the probe's clock", m.at.Format(time.RFC3339Nano), ahead))
	} else if by > 0 {
		r.At = m.at
	}
	return r, nil
}

// name is a probe as the log calls it.
func name(p bus.Probe) string { return p.Zone + "/" + p.Probe }
