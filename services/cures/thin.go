package cures

import (
	"math"
	"sync"
	"time"

	"seamwright/services/floor"
)

// Readings are thinned where they enter: one is kept when it differs by more
// than the dead band from the last one kept, or a while after it, and never
// sooner than the least gap.
const (
	keepAfter = 2 * time.Minute
	leastGap  = 10 * time.Second
)

// thinner remembers the newest reading kept of each probe. It forgets with
// the process: the first reading after a start is kept.
type thinner struct {
	mu   sync.Mutex
	kept map[probe]kept
}

type probe struct{ zone, id string }

type kept struct {
	at    time.Time
	tempC float64
	seq   uint64
}

func newThinner() *thinner { return &thinner{kept: map[probe]kept{}} }

// stands reports whether an earlier reading stands for this one, and which. A
// late reading is always kept: it was not heard before.
func (t *thinner) stands(p probe, at time.Time, tempC float64) (uint64, bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	last, ok := t.kept[p]
	if !ok || at.Before(last.at) {
		return 0, false
	}
	gap := at.Sub(last.at)
	same := math.Abs(tempC-last.tempC) <= floor.DeadBandC && gap < keepAfter
	return last.seq, gap < leastGap || same
}

// keep notes a reading that was stored.
func (t *thinner) keep(p probe, at time.Time, tempC float64, seq uint64) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if last, ok := t.kept[p]; !ok || at.After(last.at) {
		t.kept[p] = kept{at, tempC, seq}
	}
}
