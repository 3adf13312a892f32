package bus_test

import (
	"strings"
	"testing"
	"time"

	"seamwright/services/bus"
)

// What a reader showed and then held for any reason stays held until another
// leave is given.
func TestALeaveThatWasBrokenOffDoesNotComeBack(t *testing.T) {
	for name, broken := range map[string]func(*listener){
		"silence":  func(l *listener) { l.pass(3 * time.Second) },
		"repeated": func(l *listener) { l.b.Number--; l.send(l.b) },
		"no beat":  func(l *listener) { l.j.Take([]byte("CLEAR"), l.at) },
		"the gate": func(l *listener) { l.beat(func(b *bus.Beat) { b.Sign = bus.Hold }); l.b.Sign = bus.Clear },
		"other holder": func(l *listener) {
			o := l.b
			o.Holder, o.Number, o.Sign = "gate-B", 900, bus.Hold
			l.send(o)
		},
	} {
		t.Run(name, func(t *testing.T) {
			l, latch := newListener(t), bus.Latch{}
			show := func(v bus.Verdict) bus.Verdict { return latch.Show(v) }
			l.want(show(l.j.At(l.at)), bus.Hold, bus.HoldSilence) // nothing was shown yet: nothing breaks off
			l.want(show(l.beat()), bus.Hold, bus.HoldFirstBeat)
			l.want(show(l.beat()), bus.Clear)
			broken(l)
			held := show(l.j.At(l.at))
			if held.Sign != bus.Hold {
				t.Fatalf("%+v", held)
			}
			back := false
			for range 10 {
				raw := l.beat()
				shown := show(raw)
				if shown.Sign != bus.Hold {
					t.Fatalf("%+v", shown)
				}
				if raw.Sign == bus.Clear {
					back = true
					l.want(shown, bus.Hold, bus.HoldBrokenOff)
					if text := shown.Reasons[0].Text; shown.Load != "2207-A" || !strings.Contains(text, "p-1") || !strings.Contains(text, held.Reasons[0].Text) {
						t.Errorf("%+v", shown)
					}
				}
			}
			if !back {
				t.Error("the judge was never content again: nothing was tried")
			}
			l.want(show(l.beat(func(b *bus.Beat) { b.Permit = "p-2" })), bus.Hold, bus.HoldFirstBeat)
			l.want(show(l.beat()), bus.Clear)
		})
	}
}

// An override is a leave too.
func TestAnOverrideThatWasBrokenOffDoesNotComeBack(t *testing.T) {
	l, latch := newListener(t), bus.Latch{}
	over := func(b *bus.Beat) { b.Sign, b.Reasons = bus.Override, []bus.Reason{{Name: "flow-out", Text: "71 %"}} }
	latch.Show(l.beat(over))
	l.want(latch.Show(l.beat()), bus.Override, "flow-out")
	l.pass(3 * time.Second)
	latch.Show(l.j.At(l.at))
	latch.Show(l.beat())
	l.want(latch.Show(l.beat()), bus.Hold, bus.HoldBrokenOff)
}
