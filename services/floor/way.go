package floor

import (
	"sync"
	"time"

	"seamwright/services/calc/cure"
)

// way is the path of a seam and the one zone that it ends in.
type way struct {
	path  *cure.Path // nil: no zone is known at all
	zone  ZoneID     // empty: it ends in a hull
	since time.Time
}

// path is what a seam cures in from a moment on: the zones that its panel
// was in, the hull of old and new while it settles, the heat that was held to
// it, and every bay while nobody knows. Nil when no zone is known at all.
func (fl *Floor) path(s *Seam) *cure.Path { return fl.way(s).path }

// way is a seam's path with where it ends, kept until something about it
// changes.
func (fl *Floor) way(s *Seam) way {
	if w, ok := fl.paths.get(s.ID); ok {
		return w
	}
	parts := fl.seamStretches(fl.book, s)
	w := way{path: fl.makePath(parts)}
	w.zone, w.since = settledIn(parts)
	fl.paths.put(s.ID, w)
	return w
}

// settledIn is the one zone that a path ends in and since when; empty while it
// ends in a hull.
func settledIn(parts []stretch) (ZoneID, time.Time) {
	n := len(parts) - 1
	last := parts[n]
	if !last.alone() {
		return "", time.Time{}
	}
	for ; n > 0 && parts[n-1].alone() && parts[n-1].zones[0] == last.zones[0]; n-- {
		last = parts[n-1]
	}
	return last.zones[0], last.from
}

// pathCache keeps the paths of seams between changes. Readers fill it side
// by side.
type pathCache struct {
	mu sync.Mutex
	m  map[SeamID]way
}

func newPathCache() *pathCache { return &pathCache{m: map[SeamID]way{}} }

func (c *pathCache) get(s SeamID) (way, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	w, ok := c.m[s]
	return w, ok
}

func (c *pathCache) put(s SeamID, w way) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.m[s] = w
}

func (c *pathCache) drop(seams ...SeamID) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, s := range seams {
		delete(c.m, s)
	}
}

func (c *pathCache) clear() {
	c.mu.Lock()
	defer c.mu.Unlock()
	clear(c.m)
}
