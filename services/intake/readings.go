package intake

import (
	"cmp"
	"io"
	"slices"
	"time"
)

// Reading is one reading of a zone.
type Reading struct {
	At        time.Time // UTC
	TempC     float64   // air
	RHPercent *float64  // relative humidity, nil: not measured
	SurfaceC  *float64  // surface, nil: not measured
}

// ReadReadings reads a file of readings (CSV). They may stand in any order
// and come back by time; an instant that stands twice is a mistake. A
// header without rows is a file without readings.
func ReadReadings(name string, r io.Reader) ([]Reading, error) {
	s := &sheet{name: name}
	data, err := s.slurp(r, MaxBytes)
	if err != nil {
		return nil, err
	}
	if data == nil {
		return nil, s.err()
	}
	t := s.table(data, MaxReadings, []string{"time", "temp_c"}, []string{"rh_percent", "surface_c"})
	if t == nil {
		return nil, s.err()
	}
	out := []Reading{}
	first := map[int64]int{} // instant to the line where it stood first
	for t.next() {
		at, ok := moment(t.cell("time"))
		if !ok {
			t.bad("time", momentLimit)
		} else if was, twice := first[at.UnixNano()]; twice {
			t.bad("time", "each instant once, it stands at line "+plain(float64(was))+" too; take one out")
		} else {
			first[at.UnixNano()] = t.line
		}
		out = append(out, Reading{
			At:        at,
			TempC:     t.number("temp_c", airTemp),
			RHPercent: t.maybe("rh_percent", span{above: true, hi: 100, unit: "%"}),
			SurfaceC:  t.maybe("surface_c", airTemp),
		})
	}
	if err := s.err(); err != nil {
		return nil, err
	}
	slices.SortFunc(out, func(a, b Reading) int { return cmp.Compare(a.At.UnixNano(), b.At.UnixNano()) })
	return out, nil
}
