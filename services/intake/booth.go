package intake

import (
	"io"
	"strconv"
	"time"

	"go.yaml.in/yaml/v3"

	"seamwright/services/calc/spec"
)

// Booth is one booth file: a booth or a prep station that is sprayed in.
type Booth struct {
	ID           string
	ZoneID       string      // the zone whose air it has; its own id unless given
	Coats        []spec.Coat // kinds that may be sprayed there; empty: every kind
	Open         []Interval  // when it may be used, in order; empty: round the clock
	FirstCoatMin float64     // minutes that the first coat takes
	ProcessMin   float64     // minutes that a load occupies it
	SetupMin     map[string]map[string]float64
}

// Interval is a stretch of time, ends included.
type Interval struct{ From, To time.Time }

// MayTake reports whether a kind of coat may be sprayed in the booth.
func (b Booth) MayTake(c spec.Coat) bool {
	return len(b.Coats) == 0 || spec.Known(c, b.Coats)
}

// ReadBooth reads a booth file (YAML). Required are id, first_coat_min and
// process_min. Setups are minutes from the colour in the gun to the next
// one; every pair of the colours named there must be given, same colour
// included.
func ReadBooth(name string, r io.Reader) (Booth, error) {
	s := &sheet{name: name}
	data, err := s.slurp(r, MaxYAMLBytes)
	if err != nil {
		return Booth{}, err
	}
	if data == nil {
		return Booth{}, s.err()
	}
	m := s.mapping(data, "id", "zone", "coats", "open", "first_coat_min", "process_min", "setup_min")
	if m == nil {
		return Booth{}, s.err()
	}
	b := Booth{
		ID:           m.id("id"),
		ZoneID:       m.matching("zone", identifier, identifierLimit),
		Coats:        words(m, "coats", spec.Coats()),
		FirstCoatMin: m.needNumber("first_coat_min", minutesPos),
		ProcessMin:   m.needNumber("process_min", minutesPos),
		Open:         readOpen(m),
		SetupMin:     readSetups(m),
	}
	if b.ZoneID == "" {
		b.ZoneID = b.ID
	}
	if b.FirstCoatMin > b.ProcessMin && b.ProcessMin > 0 {
		s.bad(m.lineOf("first_coat_min"), "first_coat_min", plain(b.FirstCoatMin), "at most process_min "+plain(b.ProcessMin))
	}
	if err := s.err(); err != nil {
		return Booth{}, err
	}
	return b, nil
}

// readOpen reads the calendar: intervals in order that do not touch.
func readOpen(m *mapping) []Interval {
	const limit = "a list of [from, to]"
	var out []Interval
	for i, n := range m.list("open", 2000, limit) {
		field := "open[" + strconv.Itoa(i) + "]"
		if n.Kind != yaml.SequenceNode || len(n.Content) != 2 {
			m.s.bad(n.Line, field, nodeText(n), "[from, to]")
			continue
		}
		var t [2]time.Time
		good := true
		for j, end := range n.Content {
			var ok bool
			if t[j], ok = moment(nodeText(end)); !ok || end.Kind != yaml.ScalarNode {
				m.s.bad(end.Line, field, nodeText(end), momentLimit)
				good = false
			}
		}
		if !good {
			continue
		}
		if !t[0].Before(t[1]) {
			m.s.bad(n.Line, field, n.Content[1].Value, "an end after its begin "+n.Content[0].Value)
		}
		if len(out) > 0 && !out[len(out)-1].To.Before(t[0]) {
			m.s.bad(n.Line, field, n.Content[0].Value, "a begin after the end of the one before; join or order them")
		}
		out = append(out, Interval{From: t[0], To: t[1]})
	}
	return out
}

func readSetups(m *mapping) map[string]map[string]float64 {
	out := map[string]map[string]float64{}
	setups := m.sub("setup_min")
	if setups == nil {
		return out
	}
	colours := map[string]bool{}
	for _, from := range setups.names {
		row := setups.sub(from)
		if row == nil {
			continue
		}
		checkColour(m, setups.lineOf(from), from)
		colours[from] = true
		out[from] = map[string]float64{}
		for _, to := range row.names {
			checkColour(m, row.lineOf(to), to)
			colours[to] = true
			out[from][to] = row.needNumber(to, minutes)
		}
	}
	if len(colours) > 100 {
		m.s.bad(m.lineOf("setup_min"), "setup_min", strconv.Itoa(len(colours))+" colours", "at most 100 colours")
		return nil
	}
	for _, from := range sorted(colours) {
		for _, to := range sorted(colours) {
			if _, ok := out[from][to]; !ok {
				m.s.bad(m.lineOf("setup_min"), "setup_min."+from+"."+to, "missing", "minutes for every pair of colours, same colour included")
			}
		}
	}
	return out
}

func checkColour(m *mapping, at int, colour string) {
	if colour == "" || !line(colour, 60) {
		m.s.bad(at, "setup_min", colour, "a colour of 1 to 60 characters")
	}
}
