package intake

import (
	"io"
	"slices"
	"strconv"

	"seamwright/services/calc/spec"
)

// Load is what a booth takes at once.
type Load struct {
	ID           string
	BoothID      string
	RO           string
	Colour       string
	Coat         spec.Coat // first coat sprayed in it; empty: the job's first
	FirstCoatMin *float64  // nil: the booth's
	ProcessMin   *float64  // nil: the booth's
	Seams        []string  // of the job, by the survey's names
}

// ReadLoads reads a file of loads (CSV). first_coat_min and process_min may
// be empty; the column coat may be absent.
func ReadLoads(name string, r io.Reader) ([]Load, error) {
	s := &sheet{name: name}
	data, err := s.slurp(r, MaxBytes)
	if err != nil {
		return nil, err
	}
	if data == nil {
		return nil, s.err()
	}
	t := s.table(data, MaxLoads, []string{"load", "booth", "ro", "colour", "seams"},
		[]string{"first_coat_min", "process_min", "coat"})
	if t == nil {
		return nil, s.err()
	}
	out := []Load{}
	first := map[string]int{}
	for t.next() {
		l := readLoad(t)
		if was, twice := first[l.ID]; twice {
			t.bad("load", "each load once, it stands at line "+strconv.Itoa(was)+" too")
		}
		first[l.ID] = t.line
		out = append(out, l)
	}
	if err := s.err(); err != nil {
		return nil, err
	}
	return out, nil
}

func readLoad(t *table) Load {
	l := Load{
		ID: t.id("load"), BoothID: t.id("booth"), RO: t.id("ro"),
		Colour:       t.needText("colour", 60),
		Coat:         cellWord(t, "coat", spec.Coats(), false),
		FirstCoatMin: t.maybe("first_coat_min", minutesPos),
		ProcessMin:   t.maybe("process_min", minutesPos),
		Seams:        t.split("seams"),
	}
	if l.FirstCoatMin != nil && l.ProcessMin != nil && *l.FirstCoatMin > *l.ProcessMin {
		t.bad("first_coat_min", "at most process_min "+plain(*l.ProcessMin))
	}
	if len(l.Seams) > 200 {
		t.s.bad(t.line, "seams", strconv.Itoa(len(l.Seams))+" seams", "at most 200 seams in a load")
		return l
	}
	for i, id := range l.Seams {
		if !identifier.MatchString(id) {
			t.s.bad(t.line, "seams", id, "names of seams separated by ;, each "+identifierLimit)
		}
		if slices.Contains(l.Seams[:i], id) {
			t.s.bad(t.line, "seams", id, "each seam once; take one out")
		}
	}
	return l
}
