package cure

import "math"

// shape says which rule the set follows along a segment.
type shape uint8

const (
	level   shape = iota // before the first reading: the limits
	between              // both neighbours allow it
	jumped               // before an implausible jump or where a probe joins: either neighbour allows it
	cone                 // after the last reading
)

// segment is a stretch of time in which the set follows one rule. Moments
// inside it are seconds since its start. At its two ends it gives the limits
// from inside; at the very instant of a reading the set is the reading's own.
type segment struct {
	shape  shape
	known  bool    // a nominal temperature is known
	start  int64   // ns
	length float64 // s; unused by level and cone
	a, b   Set     // what grows forwards from the start, backwards from the end
	bounds Set     // the growing stops here
	n0, n1 float64 // nominal at the ends, before it is brought inside
	drift  float64 // K/s
}

// segment i runs from reading i to the next one within the first n readings;
// -1 is the stretch before the first.
func (c *Course) segment(i, n int) segment {
	s := segment{drift: c.zone.DriftPerMin / 60, bounds: c.zone.Limits, known: n > 0}
	if i < 0 {
		if n > 0 {
			s.start, s.n0 = c.marks[0].at, c.marks[0].c
		}
		return s
	}
	m := &c.marks[i]
	s.start, s.a, s.n0 = m.at, m.set, m.c
	s.bounds = s.bounds.Hull(m.set)
	if i == n-1 {
		s.shape = cone
		return s
	}
	next := &c.marks[i+1]
	s.bounds = s.bounds.Hull(next.set)
	s.shape, s.b, s.n1 = between, next.set, next.c
	if next.jump || next.joins {
		s.shape, s.b = jumped, next.read()
	}
	s.length = seconds(m.at, next.at)
	return s
}

// lower edge in °C, t seconds after the start.
func (s *segment) lower(t float64) float64 {
	switch s.shape {
	case between:
		return math.Max(math.Max(s.a.Lo-s.drift*t, s.b.Lo-s.drift*(s.length-t)), s.bounds.Lo)
	case jumped:
		return math.Max(math.Min(s.a.Lo-s.drift*t, s.b.Lo-s.drift*(s.length-t)), s.bounds.Lo)
	case cone:
		return math.Max(s.a.Lo-s.drift*t, s.bounds.Lo)
	default:
		return s.bounds.Lo
	}
}

// upper edge in °C, t seconds after the start.
func (s *segment) upper(t float64) float64 {
	switch s.shape {
	case between:
		return math.Min(math.Min(s.a.Hi+s.drift*t, s.b.Hi+s.drift*(s.length-t)), s.bounds.Hi)
	case jumped:
		return math.Min(math.Max(s.a.Hi+s.drift*t, s.b.Hi+s.drift*(s.length-t)), s.bounds.Hi)
	case cone:
		return math.Min(s.a.Hi+s.drift*t, s.bounds.Hi)
	default:
		return s.bounds.Hi
	}
}

// line is the straight nominal before it is brought inside the edges.
func (s *segment) line(t float64) float64 {
	if s.shape == between || s.shape == jumped {
		return s.n0 + (s.n1-s.n0)*(t/s.length)
	}
	return s.n0
}

// value is the temperature in °C along a side.
func (s *segment) value(side Side, t float64) float64 {
	switch side {
	case Cold:
		return s.lower(t)
	case Hot:
		return s.upper(t)
	default:
		return Set{s.lower(t), s.upper(t)}.clamp(s.line(t))
	}
}

// straight reports whether the nominal needs no bringing inside: both ends
// lie in their sets and the line is no steeper than the edges.
func (s *segment) straight() bool {
	switch s.shape {
	case level:
		return true
	case cone:
		return s.n0 >= s.a.Lo && s.n0 <= s.a.Hi
	case between:
		return s.n0 >= s.a.Lo && s.n0 <= s.a.Hi && s.n1 >= s.b.Lo && s.n1 <= s.b.Hi &&
			math.Abs(s.n1-s.n0) <= s.drift*s.length
	default:
		return false
	}
}

// cutBuf has room for both ends, three bends of each edge and the crossings
// of the nominal with either edge in each stretch between.
type cutBuf [24]float64

// cuts lists the moments from t0 to t1 between which a side is straight.
func (s *segment) cuts(side Side, t0, t1 float64, buf *cutBuf) []float64 {
	cs := append(buf[:0], t0)
	if s.shape == level || side == Nominal && s.straight() {
		return append(cs, t1)
	}
	if side != Hot {
		cs = s.bends(cs, t0, t1, s.a.Lo-s.bounds.Lo, s.b.Lo-s.bounds.Lo, s.a.Lo-s.b.Lo)
	}
	if side != Cold {
		cs = s.bends(cs, t0, t1, s.bounds.Hi-s.a.Hi, s.bounds.Hi-s.b.Hi, s.b.Hi-s.a.Hi)
	}
	cs = sorted(append(cs, t1))
	if side != Nominal {
		return cs
	}
	for i, n := 1, len(cs); i < n; i++ {
		u, v := cs[i-1], cs[i]
		lu, lv := s.line(u), s.line(v)
		cs = crossing(cs, u, v, lu-s.lower(u), lv-s.lower(v))
		cs = crossing(cs, u, v, s.upper(u)-lu, s.upper(v)-lv)
	}
	return sorted(cs)
}

// bends adds where an edge meets its bound (room kelvin away at the start and
// at the end) and where what grows from both ends crosses (apart kelvin).
func (s *segment) bends(cs []float64, t0, t1, roomA, roomB, apart float64) []float64 {
	if s.drift == 0 {
		return cs
	}
	cs = inside(cs, t0, t1, roomA/s.drift)
	if s.shape == cone {
		return cs
	}
	cs = inside(cs, t0, t1, s.length-roomB/s.drift)
	return inside(cs, t0, t1, (s.length+apart/s.drift)/2)
}

func inside(cs []float64, t0, t1, t float64) []float64 {
	if t > t0 && t < t1 {
		return append(cs, t)
	}
	return cs
}

// crossing adds the zero of a straight line from gu at u to gv at v.
func crossing(cs []float64, u, v, gu, gv float64) []float64 {
	if gu*gv >= 0 {
		return cs
	}
	return inside(cs, u, v, u+(v-u)*gu/(gu-gv))
}

// sorted orders a few numbers in place.
func sorted(xs []float64) []float64 {
	for i := 1; i < len(xs); i++ {
		for j := i; j > 0 && xs[j] < xs[j-1]; j-- {
			xs[j], xs[j-1] = xs[j-1], xs[j]
		}
	}
	return xs
}

// age is the integral of the law's rate along a side from t0 to t1.
func (s *segment) age(l Law, side Side, t0, t1 float64) float64 {
	if t1 <= t0 {
		return 0
	}
	var buf cutBuf
	cs := s.cuts(side, t0, t1, &buf)
	var sum float64
	c := s.value(side, t0)
	for i := 1; i < len(cs); i++ {
		next := s.value(side, cs[i])
		sum += l.over(side, cs[i]-cs[i-1], c, next)
		c = next
	}
	return sum
}

// reach is the first moment from t0 on, at most t1, at which the age since t0
// equals amount.
func (s *segment) reach(l Law, side Side, t0, t1, amount float64) float64 {
	var buf cutBuf
	cs := s.cuts(side, t0, t1, &buf)
	c := s.value(side, t0)
	for i := 1; i < len(cs); i++ {
		next, dt := s.value(side, cs[i]), cs[i]-cs[i-1]
		got := l.over(side, dt, c, next)
		if got >= amount {
			return cs[i-1] + l.reach(side, dt, c, next, amount)
		}
		amount -= got
		c = next
	}
	return t1
}
