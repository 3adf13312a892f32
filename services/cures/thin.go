package cures

import (
	"math"
	"sync"
	"time"

	"seamwright/services/calc/cure"
	"seamwright/services/floor"
)

// Readings are thinned where they enter: one is kept when it differs by more
// than the dead band from the last one kept, or a while after it, and never
// sooner than the least gap. Only one that the last one kept does not cover
// waits for less: a probe that has nothing more to tell would hide a leap.
const (
	keepAfter = 2 * time.Minute
	leastGap  = 10 * time.Second
	leapGap   = time.Second

	// leastStale is the least time after which a zone may count its readings as
	// stale: longer than thinning keeps one back, with room for a probe that
	// reports each minute.
	leastStale = keepAfter + time.Minute
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
// late reading is always kept: it was not heard before. So is one in a zone
// in which the earlier one does not cover it.
func (t *thinner) stands(p probe, at time.Time, tempC float64, in cure.Zone) (uint64, bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	last, ok := t.kept[p]
	if !ok || at.Before(last.at) {
		return 0, false
	}
	gap := at.Sub(last.at)
	same := math.Abs(tempC-last.tempC) <= floor.DeadBandC && gap < keepAfter
	if gap < leastGap && gap >= leapGap && math.Abs(tempC-last.tempC) > covers(in, gap) {
		return 0, false
	}
	return last.seq, gap < leastGap || same
}

// covers is how far (K) a reading may be from an earlier one whose set, grown
// since, still meets its own: that of a zone nobody defined covers nothing.
func covers(in cure.Zone, gap time.Duration) float64 {
	return 2*(in.ProbeErrorC+floor.DeadBandC) + in.DriftPerMin*gap.Minutes()
}

// keep notes a reading that was stored.
func (t *thinner) keep(p probe, at time.Time, tempC float64, seq uint64) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if last, ok := t.kept[p]; !ok || at.After(last.at) {
		t.kept[p] = kept{at, tempC, seq}
	}
}
