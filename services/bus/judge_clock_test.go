package bus_test

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"seamwright/services/bus"
)

// The moments in the beats may be an hour or a year off; they only have to go
// on as time does.
func TestTheGatesClock(t *testing.T) {
	for _, off := range []time.Duration{-24 * 365 * time.Hour, -time.Hour, time.Hour, 24 * 365 * time.Hour} {
		l := newListener(t)
		l.b.Now, l.b.StartBy = l.b.Now.Add(off), l.b.StartBy.Add(off)
		l.beat()
		l.want(l.beat(), bus.Clear)
		for _, step := range []time.Duration{-time.Hour, -2 * time.Second, time.Hour, 2 * time.Second} {
			l.b.Now, l.b.StartBy = l.b.Now.Add(step), l.b.StartBy.Add(step)
			v := l.beat()
			if v.Sign != bus.Hold || v.Reasons[0].Name != bus.HoldGateClock {
				t.Errorf("set by %s: %+v", step, v)
			}
			l.beat() // another start_by, too
			l.want(l.beat(), bus.Clear)
		}
		l.b.Now = l.b.Now.Add(-bus.BeatEvery) // stands still
		l.want(l.beat(), bus.Hold, bus.HoldGateClock)
	}
}

// A connection that was stuck lets go of beats of minutes ago all at once.
// They advance, they come within moments, and they are old: only one that
// comes when it should after them makes CLEAR of them.
func TestBeatsThatWereHeldUp(t *testing.T) {
	l := newListener(t)
	for range 20 {
		l.beat()
	}
	l.want(l.j.At(l.at), bus.Clear)
	l.at += 90 * time.Second // here; the beats go on
	for range 180 {
		l.b.Now = l.b.Now.Add(bus.BeatEvery)
		l.at += time.Millisecond
		if v := l.hear(); v.Sign != bus.Hold {
			t.Fatalf("%s by beat %d, which was held up", v.Sign, v.Beat)
		}
	}
	l.want(l.j.At(l.at), bus.Hold, bus.HoldFirstBeat)
	l.want(l.beat(), bus.Clear)
	for range 700 { // and it stays so
		l.b.StartBy = l.b.Now.Add(10 * time.Minute)
		l.beat()
	}
	l.b.StartBy = l.b.Now.Add(10 * time.Minute)
	l.beat()
	l.want(l.beat(), bus.Clear)
}

// A beat that was held up counts from when it should have come. One that was
// is no trouble while others follow, but a gate that fell silent meanwhile is
// believed for no longer than if the connection had been sound.
func TestAGateThatFellSilentWhileItsBeatsWereHeldUp(t *testing.T) {
	for held := time.Duration(0); held <= bus.Window-bus.BeatEvery; held += 300 * time.Millisecond {
		l := newListener(t)
		for range 20 {
			l.beat()
		}
		sent := l.at + bus.BeatEvery
		l.pass(bus.BeatEvery)
		l.at += held
		l.want(l.hear(), bus.Clear)
		l.want(l.j.At(sent+bus.Window), bus.Clear)
		reason := bus.HoldLate
		if held == 0 {
			reason = bus.HoldSilence
		}
		v := l.j.At(sent + bus.Window + time.Millisecond)
		l.want(v, bus.Hold, reason)
		l.b.Now = l.b.Now.Add(bus.BeatEvery) // the next one, right behind it or in time
		l.at = max(l.at, sent+bus.BeatEvery)
		l.want(l.hear(), bus.Clear)
		l.want(l.j.At(sent+bus.Window+time.Millisecond), bus.Clear)
	}
}

// Two clocks that run apart by 300 ppm for six hours, 6.5 s in all, do not end in HOLD.
func TestClocksThatRunApart(t *testing.T) {
	for _, sign := range []time.Duration{-1, 1} {
		l := newListener(t)
		l.b.StartBy = l.b.Now.Add(10 * 24 * time.Hour)
		l.beat()
		for n := range 6 * 3600 {
			l.at += sign * 300 * time.Microsecond
			if v := l.beat(); v.Sign != bus.Clear {
				t.Fatalf("after %d s: %+v", n, v)
			}
		}
	}
}

// One holder says HOLD, and CLEAR a moment later; the other one said CLEAR all
// the time. That is no CLEAR until the HOLD is older than the window.
func TestAnotherHoldersHoldCountsForTheWindow(t *testing.T) {
	j := bus.NewJudge("B1")
	say := func(at time.Duration, holder string, n uint64, sign bus.Sign) {
		t.Helper()
		b := cleared()
		b.Booth, b.Holder, b.Number, b.Sign, b.Permit = "B1", holder, n, sign, "p-1"
		b.Now, b.StartBy = monday.Add(at), monday.Add(time.Hour)
		data, err := b.Encode()
		if err != nil {
			t.Fatal(err)
		}
		j.Take(data, at)
	}
	const tenth = 100 * time.Millisecond
	say(0, "gate-B", 1, bus.Clear)
	say(tenth, "gate-A", 7, bus.Hold)
	say(2*tenth, "gate-A", 8, bus.Clear)
	for n := range uint64(4) {
		at := time.Duration(n+1) * 800 * time.Millisecond
		say(at, "gate-A", 9+n, bus.Clear)
		say(at, "gate-B", 2+n, bus.Clear)
		want := bus.Hold
		if at-tenth > bus.Window {
			want = bus.Clear
		}
		if got := j.At(at); got.Sign != want {
			t.Errorf("%s after the other holder's HOLD: %s %v, want %s", at-tenth, got.Sign, got.Reasons, want)
		}
	}
}

// Whatever comes: CLEAR is said only when the last two messages of the holder
// who spoke last were beats of this booth that say CLEAR by the same permit,
// advance, and came within the window; and nothing else came in between.
func TestClearIsNeverSaidOtherwise(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		j := bus.NewJudge("B1")
		type came struct {
			bus.Beat
			at time.Duration
			ok bool
		}
		var heard []came
		at, shop := time.Duration(0), monday
		for range rapid.IntRange(1, 25).Draw(rt, "messages") {
			step := time.Duration(rapid.SampledFrom([]int{0, 500, 500, 500, 1000, 1700, 1900, 9000}).Draw(rt, "ms")) * time.Millisecond
			at, shop = at+step, shop.Add(step+time.Duration(rapid.SampledFrom([]int{0, 0, 0, 0, -1500, 3000}).Draw(rt, "set"))*time.Millisecond)
			b := cleared()
			b.Booth = rapid.SampledFrom([]string{"B1", "B1", "B1", "B1", "B1", "B2"}).Draw(rt, "booth")
			b.Holder = rapid.SampledFrom([]string{"gate-A", "gate-A", "gate-A", "gate-B"}).Draw(rt, "holder")
			b.Number = uint64(len(heard) + 10 - rapid.SampledFrom([]int{0, 0, 0, 1, 2}).Draw(rt, "back"))
			b.Sign = rapid.SampledFrom([]bus.Sign{bus.Clear, bus.Clear, bus.Clear, bus.Clear, bus.Hold, bus.Override}).Draw(rt, "sign")
			b.Permit = rapid.SampledFrom([]string{"p-1", "p-1", "p-1", "p-2"}).Draw(rt, "permit")
			b.Now, b.StartBy = shop, shop.Add(time.Minute).Truncate(time.Hour).Add(time.Hour)
			data, err := b.Encode()
			if err != nil {
				rt.Fatal(err)
			}
			if rapid.IntRange(0, 15).Draw(rt, "broken") == 0 {
				data = data[1:]
			}
			j.Take(data, at)
			heard = append(heard, came{b, at, data[0] == '{' && b.Booth == "B1"})
			look := at + time.Duration(rapid.SampledFrom([]int{0, 100, 1700, 1900}).Draw(rt, "look"))*time.Millisecond
			if j.At(look).Sign != bus.Clear {
				continue
			}
			last := heard[len(heard)-1]
			var before *came
			for i := len(heard) - 2; i >= 0 && before == nil; i-- {
				h := &heard[i]
				if !h.ok {
					rt.Fatalf("CLEAR over %+v", *h)
				}
				if h.Holder == last.Holder {
					before = h
				} else if look-h.at <= bus.Window && (h.Sign != bus.Clear || h.Permit != last.Permit) {
					rt.Fatalf("CLEAR though %+v says otherwise", *h)
				}
			}
			if before == nil || !last.ok || last.Sign != bus.Clear || before.Sign != bus.Clear || before.Permit != last.Permit ||
				last.Number <= before.Number || last.at-before.at > bus.Window || look-last.at > bus.Window || !last.Now.After(before.Now) {
				rt.Fatalf("CLEAR from %+v after %+v", last, before)
			}
		}
	})
}
