package cure

// maxLaws bounds the laws whose sums a course keeps; the law that was asked
// for longest ago makes room. A shop has a few products in use at once.
const maxLaws = 64

// table holds, for each law and side, the cumulative age at each reading,
// zero at the first: 24 bytes a reading and law.
type table struct {
	laws map[Law]*lawSums
	uses uint64
}

type lawSums struct {
	bySide [3][]float64
	used   uint64
}

// cut forgets the sums from reading i on.
func (t *table) cut(i int) {
	for _, s := range t.laws {
		for k := range s.bySide {
			s.bySide[k] = s.bySide[k][:min(i, len(s.bySide[k]))]
		}
	}
}

// of finds or makes the sums of a law.
func (t *table) of(l Law) *lawSums {
	t.uses++
	if s := t.laws[l]; s != nil {
		s.used = t.uses
		return s
	}
	if t.laws == nil {
		t.laws = make(map[Law]*lawSums)
	}
	if len(t.laws) >= maxLaws {
		var oldest Law
		least := t.uses
		for k, s := range t.laws {
			if s.used < least {
				oldest, least = k, s.used
			}
		}
		delete(t.laws, oldest)
	}
	s := &lawSums{used: t.uses}
	t.laws[l] = s
	return s
}

// upTo returns the sums at the first n readings, filling in what is missing.
// The piece between two readings depends on no later one, so what was summed
// stays true for every view.
func (c *Course) upTo(l Law, side Side, n int) []float64 {
	c.mu.Lock()
	defer c.mu.Unlock()
	law := c.sums.of(l)
	s := law.bySide[side]
	if len(s) == 0 && n > 0 {
		s = append(s, 0)
	}
	for i := len(s); i < n; i++ {
		g := c.segment(i-1, i+1)
		s = append(s, s[i-1]+g.age(l, side, 0, g.length))
	}
	law.bySide[side] = s
	return s[:n:n]
}
