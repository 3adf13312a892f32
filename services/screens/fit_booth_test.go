package screens

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func boothOf(ready, other int) Booth {
	b := galleryBoothHold()
	b.Seams = nil
	for i := range other {
		state := []SeamState{SeamHeld, SeamNotLaid, SeamWaiting}[i*3/other]
		b.Seams = append(b.Seams, BoothSeam{ID: fmt.Sprintf("o%d", i), Place: fmt.Sprintf("other %d", i), State: state})
	}
	for i := range ready {
		b.Seams = append(b.Seams, BoothSeam{ID: fmt.Sprintf("r%d", i), Place: fmt.Sprintf("ready %d", i), State: SeamReady, ClosesAt: clockAt(20-i, 30)})
	}
	return b
}

// TestBoothFolds: ready seams go into one row when not all fit, with the
// window that closes first; the others keep their rows.
func TestBoothFolds(t *testing.T) {
	if got := fitBooth(boothOf(1, 1), nil); got.density != "wide" || len(got.seams) != 2 || got.ready.N != 0 {
		t.Errorf("two seams: %+v", got)
	}
	got := fitBooth(boothOf(6, 3), nil)
	if len(got.seams) != 3 || got.ready.N != 6 || got.more.N != 0 {
		t.Fatalf("nine seams: %+v", got)
	}
	if got.ready.First != "ready 5" || !got.ready.ClosesAt.Equal(clockAt(15, 30)) {
		t.Errorf("the ready row tells %s, %v", got.ready.First, got.ready.ClosesAt)
	}
	b := boothOf(6, 0)
	b.Seams[2].ClosesAt = time.Time{}
	b.Seams[5].ClosesAt = time.Time{}
	if r := readyOf(b.Seams); r.First != "ready 4" {
		t.Errorf("a window that never closes came first: %+v", r)
	}
}

// TestBoothNeverOverflows: whatever the load and the reasons, the rows fit or
// the last of them tells the rest; nothing is lost.
func TestBoothNeverOverflows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := boothOf(rapid.IntRange(0, 20).Draw(t, "ready"), rapid.IntRange(0, 20).Draw(t, "other"))
		b.Reasons = nil
		for range rapid.IntRange(0, 2).Draw(t, "reasons") {
			b.Reasons = append(b.Reasons, Reason{Text: strings.Repeat("x", rapid.IntRange(1, 90).Draw(t, "letters"))})
		}
		b.Gate.Sentence = strings.Repeat("x", rapid.IntRange(0, 120).Draw(t, "sentence"))
		got := fitBooth(b, nil)
		rows := len(got.seams)
		for _, n := range []int{got.ready.N, got.more.N} {
			if n > 0 {
				rows++
			}
		}
		for _, s := range spacings {
			if free := boothFree(b, nil, s); s.name == got.density && rows*s.row > free {
				t.Fatalf("%d rows at %s are %d px high, %d are free", rows, s.name, rows*s.row, free)
			}
		}
		if len(got.seams)+got.ready.N+got.more.N != len(b.Seams) {
			t.Errorf("%d rows, %d ready, %d more of %d seams", len(got.seams), got.ready.N, got.more.N, len(b.Seams))
		}
	})
}
