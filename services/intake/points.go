package intake

import "io"

// MaxPoints is the most rows that a file of points may have.
const MaxPoints = 10_000

// The wide ranges of points to fit: published kinetics are far hotter and
// slower than a body shop.
var (
	pointTemp    = span{lo: -100, hi: 1000, unit: "°C"}
	pointMinutes = span{lo: 0, above: true, hi: 1e12, unit: "minutes"}
)

// ReadPoints reads times of stages at several temperatures (CSV): stage,
// temp_c, minutes. A stage is any word, since a fit takes whatever was timed.
func ReadPoints(name string, r io.Reader) ([]Point, error) {
	s := &sheet{name: name}
	data, err := s.slurp(r, MaxBytes)
	if err != nil {
		return nil, err
	}
	if data == nil {
		return nil, s.err()
	}
	t := s.table(data, MaxPoints, []string{"stage", "temp_c", "minutes"}, nil)
	if t == nil {
		return nil, s.err()
	}
	out := []Point{}
	for t.next() {
		out = append(out, Point{
			Stage: Stage(t.needText("stage", 60)), TempC: t.number("temp_c", pointTemp), Minutes: t.number("minutes", pointMinutes),
		})
	}
	if err := s.err(); err != nil {
		return nil, err
	}
	return out, nil
}
