package cure

import (
	"slices"
	"sort"
	"sync"
	"time"

	"seamwright/services/fault"
)

// mark is one reading and the set that the zone lay in at that instant.
type mark struct {
	at    int64
	c     float64 // as read
	extra float64 // K beyond the zone's probe error
	joins bool    // bounded by nothing before
	half  float64 // half-width: probe error and extra error
	set   Set

	jump    bool // implausible after the reading before
	outside bool // wholly outside the limits
	loosens bool // took an edge beyond what the growing cone had allowed
}

// read is the reading's own range.
func (m *mark) read() Set { return Set{m.c - m.half, m.c + m.half} }

// reading is what was handed in.
func (m *mark) reading() Reading {
	return Reading{At: moment(m.at), C: m.c, ExtraErrorC: m.extra, Joins: m.joins}
}

// markOf is a reading that is not placed yet.
func markOf(r Reading) mark {
	return mark{at: nanos(r.At), c: r.C, extra: r.ExtraErrorC, joins: r.Joins}
}

// placed places a reading after the one before it (nil: it is the first).
func (z Zone) placed(prev *mark, told mark) mark {
	m := mark{at: told.at, c: told.c, extra: told.extra, joins: told.joins, half: z.ProbeErrorC + told.extra}
	r := m.read()
	m.outside = r.Hi < z.Limits.Lo-tempTol || r.Lo > z.Limits.Hi+tempTol
	if prev == nil {
		m.set, m.loosens = r, !z.Limits.Holds(r)
		return m
	}
	cone := z.Limits.Hull(prev.set)
	grown := prev.set.grown(z.DriftPerMin/60*seconds(prev.at, m.at), cone.Hull(r))
	met, ok := grown.meet(r)
	if !ok || m.joins {
		met, m.jump = grown.Hull(r), !m.joins
	}
	m.set, m.loosens = met, m.jump || m.joins || !cone.Holds(met)
	return m
}

// Course is one zone's history of readings and sets. Make it with
// [NewCourse]. Questions may be asked from several goroutines at once, but
// not while a reading is added, changed or removed.
type Course struct {
	zone  Zone
	marks []mark
	// rewrites counts the changes to what was already known, so that what
	// leans on old sums notices.
	rewrites uint64

	mu   sync.Mutex // guards sums, which questions fill
	sums table
}

// NewCourse starts an empty history of a zone.
func NewCourse(z Zone) (*Course, error) {
	if err := z.Validate(); err != nil {
		return nil, err
	}
	return &Course{zone: z}, nil
}

// Zone is what the course was made with.
func (c *Course) Zone() Zone { return c.zone }

// Len is the number of readings.
func (c *Course) Len() int { return len(c.marks) }

// Readings copies the readings, oldest first.
func (c *Course) Readings() []Reading {
	rs := make([]Reading, len(c.marks))
	for i := range c.marks {
		rs[i] = c.marks[i].reading()
	}
	return rs
}

// Append adds a reading later than all before and returns what is wrong with
// it. A repeated or an earlier instant is an error and changes nothing.
func (c *Course) Append(r Reading) ([]Finding, error) {
	if err := r.Validate(); err != nil {
		return nil, err
	}
	at := nanos(r.At)
	if n := len(c.marks); n > 0 && at <= c.marks[n-1].at {
		if at == c.marks[n-1].at {
			return nil, repeated(r.At)
		}
		return nil, fault.New(fault.Conflict, "reading-late",
			"time: "+r.At.UTC().Format(time.RFC3339Nano)+": earlier than the last reading at "+
				moment(c.marks[n-1].at).Format(time.RFC3339Nano), "insert it as a late reading")
	}
	prev := c.last()
	m := c.zone.placed(prev, markOf(r))
	fs := m.findings(prev, c.zone)
	c.marks = append(c.marks, m)
	return fs, nil
}

// Insert adds a reading at its place, late or not, rebuilds the sets from
// there on and returns the findings that are new.
func (c *Course) Insert(r Reading) ([]Finding, error) {
	if err := r.Validate(); err != nil {
		return nil, err
	}
	i, found := c.find(r.At)
	if found {
		return nil, repeated(r.At)
	}
	if i == len(c.marks) {
		return c.Append(r)
	}
	c.marks = slices.Insert(c.marks, i, markOf(r))
	return c.rebuild(i, 1), nil
}

// Remove takes out the reading at an instant (withdrawn) and rebuilds the
// sets from there on; new findings are returned.
func (c *Course) Remove(at time.Time) ([]Finding, error) {
	i, found := c.find(at)
	if !found {
		return nil, fault.Missing("reading", at.UTC().Format(time.RFC3339Nano), "read the zone's history again")
	}
	c.marks = slices.Delete(c.marks, i, i+1)
	return c.rebuild(i, 0), nil
}

// Replace corrects the reading at an instant, which may move it in time; new
// findings are returned. Nothing changes on an error.
func (c *Course) Replace(at time.Time, r Reading) ([]Finding, error) {
	if err := r.Validate(); err != nil {
		return nil, err
	}
	i, found := c.find(at)
	if !found {
		return nil, fault.Missing("reading", at.UTC().Format(time.RFC3339Nano), "read the zone's history again")
	}
	if j, taken := c.find(r.At); taken && j != i {
		return nil, repeated(r.At)
	}
	c.marks = slices.Delete(c.marks, i, i+1)
	j, _ := c.find(r.At)
	c.marks = slices.Insert(c.marks, j, markOf(r))
	// From the earlier of the two places on everything may differ.
	return c.rebuild(min(i, j), max(i, j)-min(i, j)+1), nil
}

// Redefine changes the zone (new limits, error or drift) and rebuilds the
// whole course; new findings are returned.
func (c *Course) Redefine(z Zone) ([]Finding, error) {
	if err := z.Validate(); err != nil {
		return nil, err
	}
	c.zone = z
	return c.rebuild(0, len(c.marks)), nil
}

// Clone is an independent copy.
func (c *Course) Clone() *Course {
	return &Course{zone: c.zone, marks: slices.Clone(c.marks), rewrites: c.rewrites}
}

// Findings lists what is wrong with the readings taken within [from, to].
func (c *Course) Findings(from, to time.Time) []Finding {
	i, _ := c.find(from)
	end := nanos(to)
	var fs []Finding
	for ; i < len(c.marks) && c.marks[i].at <= end; i++ {
		fs = append(fs, c.marks[i].findings(c.before(i), c.zone)...)
	}
	return fs
}

// rebuild reckons the sets from mark i on. The first `changed` of them are
// new readings; after those it stops as soon as a set comes out as it was.
func (c *Course) rebuild(i, changed int) []Finding {
	c.rewrites++
	c.sums.cut(i)
	var fs []Finding
	for k := i; k < len(c.marks); k++ {
		old, prev := c.marks[k], c.before(k)
		m := c.zone.placed(prev, old)
		if m.jump && !old.jump || m.outside && !old.outside {
			fs = append(fs, m.findings(prev, c.zone)...)
		}
		c.marks[k] = m
		if k >= i+changed && m == old {
			break
		}
	}
	return fs
}

func (c *Course) before(i int) *mark {
	if i == 0 {
		return nil
	}
	return &c.marks[i-1]
}

func (c *Course) last() *mark { return c.before(len(c.marks)) }

// find gives the place of an instant among the readings.
func (c *Course) find(t time.Time) (int, bool) {
	at := nanos(t)
	i := sort.Search(len(c.marks), func(i int) bool { return c.marks[i].at >= at })
	return i, i < len(c.marks) && c.marks[i].at == at
}

func repeated(t time.Time) error {
	return fault.Bad("time", t.UTC().Format(time.RFC3339Nano),
		"a reading of this zone at this instant is already there; remove one, or correct it")
}
