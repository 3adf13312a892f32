package sim

import (
	"testing"
	"time"
)

// A probe has kept what it read while it was without its network, and no more:
// what it read after it was back was told then or tells nothing new, however
// long it waits until it tells the rest.
func TestABacklogIsOfTheTimeWithoutNetworkOnly(t *testing.T) {
	for name, c := range map[string]struct {
		last float64 // min after the network went: the newest reading told
		now  float64 // when the backlog is told
		most float64 // no moment after this
	}{
		"at once":                       {last: 60, now: 60.5, most: 55.5},
		"after the permits that ran":    {last: 60, now: 240, most: 60},
		"nothing told since it is back": {last: -1, now: 240, most: 235},
		"heard once in between":         {last: 40, now: 240, most: 40},
	} {
		for seed := range uint64(20) {
			s := &sim{now: after(c.now), chance: stream(seed, "work"), kept: map[string]told{"bay-1": {at: after(c.last)}}}
			got := s.backlog("bay-1", after(0))
			if len(got) == 0 {
				t.Fatalf("%s, seed %d: nothing was kept", name, seed)
			}
			for i, at := range got {
				switch {
				case at.Before(after(3)) || !at.Before(after(c.most)):
					t.Errorf("%s, seed %d: a reading of %.1f min after the network went; want 3 to %g", name, seed, at.Sub(after(0)).Minutes(), c.most)
				case i > 0 && at.Sub(got[i-1]) < 12*time.Minute:
					t.Errorf("%s, seed %d: two readings %s apart, want 12 min and more", name, seed, at.Sub(got[i-1]))
				}
			}
			if end := after(c.most).Sub(got[len(got)-1]); end > 25*time.Minute {
				t.Errorf("%s, seed %d: the last %s are missing", name, seed, end)
			}
		}
	}
}
