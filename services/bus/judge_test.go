package bus_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"seamwright/services/bus"
)

// listener hears beats of booth B1 on a clock of its own.
type listener struct {
	t  *testing.T
	j  *bus.Judge
	at time.Duration
	b  bus.Beat // the next one
}

func newListener(t *testing.T) *listener {
	return &listener{t: t, j: bus.NewJudge("B1"), at: 17 * time.Hour, b: cleared()}
}

// beat lets the time of one pass, hears the next beat and says what the sign is then.
func (l *listener) beat(change ...func(*bus.Beat)) bus.Verdict {
	l.t.Helper()
	l.pass(bus.BeatEvery)
	return l.hear(change...)
}

// pass lets time go by at both ends.
func (l *listener) pass(d time.Duration) {
	l.at += d
	l.b.Now = l.b.Now.Add(d)
}

// hear hears the next beat now.
func (l *listener) hear(change ...func(*bus.Beat)) bus.Verdict {
	l.t.Helper()
	l.b.Number++
	for _, c := range change {
		c(&l.b)
	}
	l.send(l.b)
	return l.j.At(l.at)
}

// send hears a beat as it is.
func (l *listener) send(b bus.Beat) {
	l.t.Helper()
	data, err := b.Encode()
	if err != nil {
		l.t.Fatal(err)
	}
	l.j.Take(data, l.at)
}

// want checks the sign, and for a HOLD that its reasons are these.
func (l *listener) want(v bus.Verdict, sign bus.Sign, names ...string) {
	l.t.Helper()
	var got []string
	for _, r := range v.Reasons {
		got = append(got, r.Name)
		if r.Text == "" {
			l.t.Errorf("reason %s has no words", r.Name)
		}
	}
	if v.Sign != sign || !slices.Equal(got, names) || v.Booth != "B1" {
		l.t.Errorf("%s %v, want %s %v: %+v", v.Sign, got, sign, names, v)
	}
}

func TestClearNeedsTwoBeatsThatAdvance(t *testing.T) {
	l := newListener(t)
	l.want(l.j.At(l.at), bus.Hold, bus.HoldSilence)
	l.want(l.beat(), bus.Hold, bus.HoldFirstBeat)
	v := l.beat()
	l.want(v, bus.Clear)
	if v.Load != "2207-A" || v.Holder != "gate-A" || v.Beat != l.b.Number || v.Left != 10*time.Minute-2*bus.BeatEvery {
		t.Errorf("%+v", v)
	}
	for range 100 {
		l.want(l.beat(), bus.Clear)
	}
	l.want(l.beat(func(b *bus.Beat) { b.Number += 2 }), bus.Clear) // two were lost within the time
}

func TestSilenceIsHold(t *testing.T) {
	l := newListener(t)
	l.beat()
	l.want(l.beat(), bus.Clear)
	l.want(l.j.At(l.at+1800*time.Millisecond), bus.Clear)
	late := l.j.At(l.at + 1801*time.Millisecond)
	l.want(late, bus.Hold, bus.HoldSilence)
	if text := late.Reasons[0].Text; !strings.HasSuffix(text, "for a little more than 1.8s, the limit is 1.8s") {
		t.Errorf("a millisecond too late: %s", text)
	}
	if text := l.j.At(l.at + 2300*time.Millisecond).Reasons[0].Text; !strings.HasSuffix(text, "for 2.3s, the limit is 1.8s") {
		t.Errorf("half a second too late: %s", text)
	}
	l.want(l.j.At(l.at+time.Hour), bus.Hold, bus.HoldSilence, bus.HoldStartBy)
	l.want(l.j.At(l.at-time.Second), bus.Hold, bus.HoldSilence) // the reader's clock went back: it is not fit
	l.pass(1800 * time.Millisecond)
	l.want(l.hear(), bus.Clear) // just in time
	l.pass(1801 * time.Millisecond)
	l.want(l.hear(), bus.Hold, bus.HoldSilence) // one after a silence is a first one
	l.want(l.beat(), bus.Clear)
}

func TestBeatsThatDoNotAdvance(t *testing.T) {
	for name, change := range map[string]func(*bus.Beat){
		"repeated":       func(b *bus.Beat) { b.Number-- },
		"back":           func(b *bus.Beat) { b.Number -= 3 },
		"from the start": func(b *bus.Beat) { b.Number = 1 },
	} {
		l := newListener(t)
		l.beat()
		l.want(l.beat(), bus.Clear)
		l.want(l.beat(change), bus.Hold, bus.HoldNotAdvancing)
		l.want(l.beat(), bus.Clear) // from there on it does
		if name == "repeated" {     // the very same message again and again
			for range 5 {
				l.at += time.Second
				l.send(l.b)
				if v := l.j.At(l.at); v.Sign != bus.Hold || v.Reasons[0].Name != bus.HoldNotAdvancing && v.Reasons[0].Name != bus.HoldLate {
					t.Errorf("repeated: %+v", v)
				}
			}
		}
	}
}

func TestTwoHolders(t *testing.T) {
	l := newListener(t)
	other := cleared()
	other.Holder, other.Number = "gate-B", 900
	say := func(sign bus.Sign, permit string) {
		other.Number++
		other.Now, other.Sign, other.Permit = l.b.Now, sign, permit
		other.Load, other.StartBy = l.b.Load, l.b.StartBy
		l.send(other)
	}
	l.beat()
	l.want(l.beat(), bus.Clear)
	say(bus.Hold, "")
	l.want(l.j.At(l.at), bus.Hold, bus.HoldTwoHolders, bus.HoldNoPermit)
	for range 3 {
		l.want(l.beat(), bus.Hold, bus.HoldTwoHolders)
	}
	l.want(l.beat(), bus.Clear) // 2 s ago
	say(bus.Clear, "p-2")       // CLEAR too, but by another leave
	l.want(l.j.At(l.at), bus.Hold, bus.HoldTwoHolders)
	l.want(l.beat(), bus.Hold, bus.HoldTwoHolders)
	say(bus.Clear, "p-2")
	l.want(l.j.At(l.at), bus.Hold, bus.HoldTwoHolders)
	for range 4 {
		l.beat()
	}
	l.want(l.j.At(l.at), bus.Clear)
	// Two of one holder between which the other says the same: nobody says otherwise.
	say(bus.Clear, "p-1")
	l.want(l.beat(), bus.Clear)
	// Each says it once: that is not two of one holder.
	m := newListener(t)
	m.beat()
	m.want(m.beat(func(b *bus.Beat) { b.Holder = "gate-C" }), bus.Hold, bus.HoldFirstBeat)
}

func TestOverrideIsNeverClear(t *testing.T) {
	over := func(b *bus.Beat) {
		b.Sign, b.Reasons = bus.Override, []bus.Reason{{Name: "flow-out", Subject: "seam/2207/rd-l", Text: "71 %"}}
	}
	l := newListener(t)
	l.beat()
	l.want(l.beat(), bus.Clear)
	l.want(l.beat(over), bus.Hold, bus.HoldFirstBeat)
	v := l.beat()
	l.want(v, bus.Override, "flow-out")
	if v.Left <= 0 {
		t.Errorf("%+v", v)
	}
	l.want(l.j.At(l.at+3*time.Second), bus.Hold, bus.HoldSilence)
}

func TestTheGateHolds(t *testing.T) {
	l := newListener(t)
	l.beat()
	l.want(l.beat(), bus.Clear)
	l.want(l.beat(func(b *bus.Beat) {
		b.Sign, b.Permit, b.StartBy, b.Reasons = bus.Hold, "", time.Time{}, []bus.Reason{{Name: "stale", Text: "no reading for 20 min"}}
	}), bus.Hold, "stale") // one is enough to hold
	l.want(l.beat(func(b *bus.Beat) { b.Reasons = nil }), bus.Hold, bus.HoldNoPermit)
	l.want(l.beat(func(b *bus.Beat) { b.Load = "" }), bus.Hold, bus.HoldNoPermit)
	l.want(l.beat(func(b *bus.Beat) { c := cleared(); c.Number, c.Now = b.Number, b.Now; *b = c }), bus.Hold, bus.HoldFirstBeat)
	l.want(l.beat(), bus.Clear)
	// Another leave, for another load, begins anew.
	l.want(l.beat(func(b *bus.Beat) { b.Permit = "p-9" }), bus.Hold, bus.HoldFirstBeat)
	l.want(l.beat(), bus.Clear)
	l.want(l.beat(func(b *bus.Beat) { b.Load = "2208-A" }), bus.Hold, bus.HoldFirstBeat)
	l.want(l.beat(), bus.Clear)
	l.want(l.beat(func(b *bus.Beat) { b.StartBy = b.StartBy.Add(time.Hour) }), bus.Hold, bus.HoldFirstBeat)
}

func TestWhatIsNoBeat(t *testing.T) {
	for name, data := range map[string]string{
		"nothing": "", "text": "CLEAR", "a list": "[]",
		"another booth's": `{"booth":"B2","holder":"gate-A","beat":1,"sign":"HOLD","reasons":[],"sequence":1,"now":"2026-03-02T10:00:00Z"}`,
	} {
		l := newListener(t)
		l.beat()
		l.want(l.beat(), bus.Clear)
		l.j.Take([]byte(data), l.at)
		v := l.j.At(l.at)
		l.want(v, bus.Hold, bus.HoldMalformed)
		if name == "another booth's" && !strings.Contains(v.Reasons[0].Text, "B2") {
			t.Errorf("%s: %+v", name, v)
		}
		for range 3 {
			l.want(l.beat(), bus.Hold, bus.HoldMalformed)
		}
		l.want(l.beat(), bus.Clear)
	}
}

func TestStartByPasses(t *testing.T) {
	l := newListener(t)
	l.b.StartBy = l.b.Now.Add(2 * time.Second)
	l.beat()
	l.want(l.beat(), bus.Clear)
	l.want(l.j.At(l.at+999*time.Millisecond), bus.Clear)
	l.want(l.j.At(l.at+time.Second), bus.Hold, bus.HoldStartBy)
}
