package bus

import (
	"fmt"
	"maps"
	"slices"
	"time"
)

// Window is how far apart two beats may be to belong together, and how old
// the newest may be: a silence of this length is HOLD. With the time between
// two looks of a reader it stays below two seconds, within which whatever goes
// silent must hold.
const Window = 1800 * time.Millisecond

// Names of the reasons for which a reader holds, whatever the gate says.
const (
	HoldSilence      = "silence"            // no beat within Window
	HoldFirstBeat    = "first-beat"         // only one yet that says so
	HoldNotAdvancing = "beat-not-advancing" // a number was repeated or went back
	HoldGateClock    = "gate-clock"         // the beats' moments do not advance as time does
	HoldLate         = "beat-late"          // it was long on its way
	HoldMalformed    = "beat-malformed"     // something that is no beat, or another booth's
	HoldTwoHolders   = "two-holders"        // two booth services say different things
	HoldStartBy      = "start-by-passed"    // the permit's time to begin has passed
	HoldPermitLost   = "permit-lost"        // the last one was taken back a while ago
	HoldNoPermit     = "no-permit"          // the gate has nothing against it, but gave no leave
)

// Judge makes a booth's sign out of the beats that a reader hears. It shows
// CLEAR only after two beats of one holder that advance, that come one after
// the other as they were sent and that give the same leave, the newest not
// older than Window, while nobody else says otherwise; everything else is HOLD,
// or the OVERRIDE that the gate shows.
//
// It reads no time of day: when a beat came is told by a clock of the
// reader's own that nobody sets, as the time since some moment, and the
// moments in the beats are compared with each other only. So neither the
// reader's clock nor the shop's has to be right. A beat that was held up on its way shows by
// coming later, beside those before it, than it should, and is as old as if
// it had come in time: a gate that fell silent while its beats were held up is
// not believed for longer than another. A judge is used from one goroutine.
type Judge struct {
	booth  string
	newest string // holder of the newest beat
	voices map[string]*voice
	bad    *flaw // the newest message that was no beat
	delay  delay
}

// voice is one holder as it was heard.
type voice struct {
	Beat
	at   time.Duration
	run  int    // beats in a row that advance and say the same
	why  Reason // why the run began anew
	late time.Duration

	other *voice // the newest one before it that gave another leave; nil: none
}

// agrees reports whether two beats give the same leave.
func (v *voice) agrees(o *voice) bool { return v.Sign == o.Sign && v.Permit == o.Permit }

// flaw is a message that could not be taken, and when it came.
type flaw struct {
	Reason
	at time.Duration
}

// NewJudge makes the judge of a booth, who has heard nothing yet.
func NewJudge(booth string) *Judge { return &Judge{booth: booth, voices: map[string]*voice{}} }

// Take hears a message of the booth's gate that came at a moment.
func (j *Judge) Take(data []byte, at time.Duration) {
	b, err := DecodeBeat(data)
	switch {
	case err != nil:
		j.flaw(at, err.Error())
	case b.Booth != j.booth:
		j.flaw(at, fmt.Sprintf("it is about booth %s, not %s", b.Booth, j.booth))
	default:
		j.hear(b, at)
	}
}

// flaw notes what is no beat. Whoever can put such a message here could put
// another, so all that was heard before counts no more.
func (j *Judge) flaw(at time.Duration, why string) {
	j.bad = &flaw{Reason{Name: HoldMalformed, Text: "what came over the gate's channel is no beat of this booth: " + why}, at}
	for _, v := range j.voices {
		v.run = 0
	}
}

func (j *Judge) hear(b Beat, at time.Duration) {
	const long = time.Minute
	maps.DeleteFunc(j.voices, func(_ string, v *voice) bool { return at-v.at > long })
	v := &voice{Beat: b, at: at, run: 1, why: Reason{Name: HoldFirstBeat, Text: fmt.Sprintf("the first beat of %s was heard, a second one must follow", b.Holder)}}
	if was := j.voices[b.Holder]; was != nil {
		if b.Now.Before(was.Now) {
			j.delay = delay{} // the shop's clock was set back: what was usual is not known any more
		}
		v.follow(was)
	}
	v.late = j.delay.beyond(at, b.Now)
	j.voices[b.Holder], j.newest = v, b.Holder
}

// follow compares a beat with the one before it of the same holder.
func (v *voice) follow(was *voice) {
	if v.other = was.other; !v.agrees(was) {
		v.other, was.other = was, nil
	}
	step, passed := v.Now.Sub(was.Now), v.at-was.at
	switch {
	case v.Number <= was.Number:
		v.why = Reason{Name: HoldNotAdvancing, Text: fmt.Sprintf("beat %d of %s came after beat %d: it does not advance", v.Number, v.Holder, was.Number)}
	case passed > Window || passed < 0:
		v.why = Reason{Name: HoldSilence, Text: fmt.Sprintf("%s was silent for %s, a second beat must follow", v.Holder, passed.Round(100*time.Millisecond))}
	case step <= 0 || step > Window:
		v.why = Reason{Name: HoldGateClock, Text: fmt.Sprintf("from beat %d to %d the gate's clock went by %s, in %s", was.Number, v.Number, step.Round(time.Millisecond), passed.Round(time.Millisecond))}
	case !v.agrees(was) || v.Load != was.Load || !v.StartBy.Equal(was.StartBy):
	case was.run == 1 && passed < step/2:
		v.why = Reason{Name: HoldFirstBeat, Text: fmt.Sprintf("beats %d and %d of %s were held up and came at once, another one must follow", was.Number, v.Number, v.Holder)}
	default:
		v.run, v.why = was.run+1, was.why
	}
}

// Verdict is what a reader may go by at a moment.
type Verdict struct {
	Booth   string
	Sign    Sign
	Load    string        // that it speaks of; may be empty
	Permit  string        // the leave; CLEAR and OVERRIDE only
	StartBy time.Time     // by the shop's clock; CLEAR and OVERRIDE only
	Left    time.Duration // from now to StartBy; CLEAR and OVERRIDE only
	Reasons []Reason      // why it holds, or what an override goes over
	Holder  string        // who spoke last; empty: nobody yet
	Beat    uint64        // the newest number
}

// At is the verdict at a moment, not before that of the newest message.
func (j *Judge) At(at time.Duration) Verdict {
	v := j.voices[j.newest]
	if v == nil {
		return j.hold(nil, Reason{Name: HoldSilence, Text: "no beat of booth " + j.booth + " was heard"})
	}
	var own []Reason
	age := at - v.at
	if age > Window || age < 0 {
		own = append(own, Reason{Name: HoldSilence, Text: fmt.Sprintf("no beat of the gate was heard for %s, the limit is %s", beyondWindow(age), Window)})
	}
	if j.bad != nil && at-j.bad.at <= Window {
		own = append(own, j.bad.Reason)
	}
	own = append(own, j.others(v, at)...)
	switch {
	case v.late > Window:
		own = append(own, Reason{Name: HoldLate, Text: fmt.Sprintf("the newest beat came %s later than beats do, the limit is %s", beyondWindow(v.late), Window)})
	case len(own) == 0 && v.late+age > Window: // what was held up and then nothing more: the gate has been silent for that long
		own = append(own, Reason{Name: HoldLate, Text: fmt.Sprintf("the newest beat came %s later than beats do, and %s ago: the limit of both is %s",
			v.late.Round(10*time.Millisecond), age.Round(10*time.Millisecond), Window)})
	}
	if v.Sign == Hold {
		return j.hold(v, append(own, v.holds()...)...)
	}
	if v.run < 2 && len(own) == 0 {
		own = append(own, v.why)
	}
	left := v.StartBy.Sub(v.Now) - age
	if left <= 0 {
		own = append(own, Reason{Name: HoldStartBy, Text: "spraying had to begin by " + v.StartBy.UTC().Format(time.RFC3339) + ", by the shop's clock"})
	}
	if len(own) > 0 {
		return j.hold(v, own...)
	}
	return Verdict{Booth: j.booth, Sign: v.Sign, Load: v.Load, Permit: v.Permit, StartBy: v.StartBy, Left: left, Reasons: v.Beat.Reasons, Holder: v.Holder, Beat: v.Number}
}

// beyondWindow is a length beyond Window, so that the two read differently.
func beyondWindow(d time.Duration) string {
	if d = d.Round(100 * time.Millisecond); d == Window {
		return "a little more than " + Window.String()
	}
	return d.String()
}

// others lists other holders that were heard within Window and did not give
// the same leave, be it that they do now.
func (j *Judge) others(v *voice, at time.Duration) (out []Reason) {
	for _, name := range slices.Sorted(maps.Keys(j.voices)) {
		o := j.voices[name]
		if o.agrees(v) && o.other != nil {
			o = o.other
		}
		if name == v.Holder || at-o.at > Window || o.agrees(v) {
			continue
		}
		out = append(out, Reason{Name: HoldTwoHolders, Text: fmt.Sprintf("%s says %s, %s says %s", v.Holder, v.Sign, name, o.Sign)})
	}
	return out
}

// holds are the gate's own reasons; a gate that only has not been asked gets
// one.
func (v *voice) holds() []Reason {
	if len(v.Beat.Reasons) > 0 {
		return v.Beat.Reasons
	}
	text := "no load is waiting for this booth"
	if v.Load != "" {
		text = "nothing stands against load " + v.Load + ", but nobody was given leave to spray"
	}
	return []Reason{{Name: HoldNoPermit, Text: text}}
}

func (j *Judge) hold(v *voice, reasons ...Reason) Verdict {
	out := Verdict{Booth: j.booth, Sign: Hold, Reasons: reasons}
	if v != nil {
		out.Load, out.Holder, out.Beat = v.Load, v.Holder, v.Number
	}
	return out
}

// delay is how long beats are on their way, up to an unknown difference of
// clocks: the least of the last minutes. What is beyond it was held up.
type delay struct {
	from      time.Time     // the first beat's own moment, which all are measured from; zero: none yet
	since     time.Duration // begin of the newer of two stretches
	now, last time.Duration // the least of the newer and of the older one
}

// stretch is how long a least delay counts: long enough that a connection
// that was stuck does not become the rule, short enough that two clocks which
// run apart do not look like one.
const stretch = 5 * time.Minute

// beyond takes a beat that was sent and that came, and says by how much it
// was later than usual.
func (d *delay) beyond(came time.Duration, sent time.Time) time.Duration {
	first := d.from.IsZero()
	if first {
		d.from = sent
	}
	by := came - sent.Sub(d.from)
	switch {
	case first:
		d.since, d.now, d.last = came, by, by
	case came-d.since > stretch:
		d.since, d.last, d.now = came, d.now, by
	default:
		d.now = min(d.now, by)
	}
	return by - min(d.now, d.last)
}
