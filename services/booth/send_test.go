package booth_test

import (
	"context"
	"testing"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
)

// of lists what went out of booth-1 since the last look.
func (h *house) of() (out []*boothv1.Gate) {
	for _, b := range h.sent {
		if b.GetBoothId() == "booth-1" {
			out = append(out, b)
		}
	}
	h.sent = nil
	return out
}

// Readers outside get the state that the watchers see, once a second and
// numbered one by one, however often the gate is stepped meanwhile; a sign
// that changes goes out at once.
func TestWhatGoesOutEachSecond(t *testing.T) {
	h := ready(t)
	h.pass(time.Second)
	h.step()
	before := h.of()
	number := before[len(before)-1].GetBeat()
	for second := range 5 {
		h.pass(time.Second)
		for range 7 { // a busy journal
			h.step()
		}
		got := h.of()
		number++
		if len(got) != 1 || got[0].GetBeat() != number || got[0].GetSign() != boothv1.Sign_SIGN_HOLD || !got[0].GetNow().AsTime().Equal(h.Time.Now()) {
			t.Fatalf("second %d: %v, want one beat %d", second, got, number)
		}
	}
	h.permit()
	h.step()
	got := h.of()
	number++
	if len(got) != 1 || got[0].GetBeat() != number || got[0].GetSign() != boothv1.Sign_SIGN_CLEAR || got[0].GetPermit().GetLoadId() != "2207-A" {
		t.Fatalf("a permit: %v", got)
	}
	h.fault = context.DeadlineExceeded
	h.step()
	if got = h.of(); len(got) == 0 || got[0].GetSign() != boothv1.Sign_SIGN_HOLD || got[0].GetBeat() != number+1 {
		t.Fatalf("the permit fell: %v", got)
	}
	w, _ := h.watch("booth-1")
	h.pass(time.Second)
	h.step()
	for { // the watcher's newest says what went out
		if shown := next(t, w); shown.GetNow().AsTime().Equal(h.Time.Now()) {
			got = h.of()
			if len(got) != 1 || got[0].GetSign() != shown.GetSign() || len(got[0].GetReasons()) != len(shown.GetReasons()) || got[0].GetSequence() != shown.GetSequence() {
				t.Errorf("outside %v, shown %v", got, shown)
			}
			return
		}
	}
}
