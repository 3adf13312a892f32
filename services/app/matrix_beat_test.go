package app_test

import (
	"testing"
	"testing/synctest"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/booth"
	"seamwright/services/bus"
)

// gaps are the times between the beats since one, by the shop's clock.
func (l *lane) gaps(since int) (out []time.Duration) {
	all := l.heard(since)
	for i := 1; i < len(all); i++ {
		out = append(out, all[i].GetNow().AsTime().Sub(all[i-1].GetNow().AsTime()))
	}
	return out
}

// Where time runs by itself the gate beats each bus.BeatEvery at the latest.
func TestTheGateBeatsTwiceASecond(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLane(t)
		defer l.close()
		l.pass(2 * time.Second)
		since := l.beatCount()
		l.pass(10 * time.Second)
		gaps := l.gaps(since)
		if n := len(gaps); n < 18 {
			t.Errorf("%d beats in ten seconds", n+1)
		}
		for _, g := range gaps {
			if g > bus.BeatEvery+50*time.Millisecond {
				t.Errorf("%s between two beats", g)
			}
		}
	})
}

// A journal that does not answer keeps the gate from taking a permit back, but
// not from saying so: its beats go on, so that readers hold by its reasons and
// not by its silence.
func TestAJournalThatHangsDoesNotSilenceTheGate(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLane(t)
		defer l.close()
		l.pass(2 * time.Second)
		if resp, err := l.ask(); err != nil || resp.GetPermit() == nil {
			t.Fatalf("%v, %v", resp, err)
		}
		l.pass(time.Second)
		since := l.beatCount()
		l.bad.set(func(f *faulty) { f.hang = true })
		go func() { _, _ = l.photo(t.Context()) }()
		l.pass(10 * time.Second)
		beats, gaps := l.heard(since), l.gaps(since)
		if len(beats) == 0 || beats[len(beats)-1].GetSign() != boothv1.Sign_SIGN_HOLD {
			t.Fatalf("the last of %d beats does not hold", len(beats))
		}
		for _, g := range gaps {
			if g > booth.Silence/2 {
				t.Errorf("%s between two beats, readers hold after %s", g, booth.Silence)
			}
		}
		if v := l.judged(); v.Sign != bus.Hold || v.Reasons[0].Name == bus.HoldSilence {
			t.Errorf("a reader holds for %v", v.Reasons)
		}
	})
}
