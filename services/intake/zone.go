package intake

import "io"

// Zone is one zone file: a room with one temperature.
type Zone struct {
	ID            string
	LimitLowC     float64 // the widening of the temperature's set stops at the limits
	LimitHighC    float64
	ProbeErrorC   float64 // half-width right at a reading
	DriftCPerMin  float64 // fastest credible change
	StaleAfterMin float64 // older readings are not fresh
	SettlingMin   float64 // time that a panel takes to follow the air; 30 unless given
}

// LeastStaleMin is the least stale_after_min: of a probe in steady air a
// reading is kept every 2 minutes only, so that a shorter limit would hold the
// gate although the probe is well.
const LeastStaleMin = 3

// ReadZone reads a zone file (YAML). All but settling_min is required.
func ReadZone(name string, r io.Reader) (Zone, error) {
	s := &sheet{name: name}
	data, err := s.slurp(r, MaxYAMLBytes)
	if err != nil {
		return Zone{}, err
	}
	if data == nil {
		return Zone{}, s.err()
	}
	m := s.mapping(data, "id", "limits_c", "probe_error_c", "drift_c_per_min", "stale_after_min", "settling_min")
	if m == nil {
		return Zone{}, s.err()
	}
	z := Zone{
		ID:            m.id("id"),
		ProbeErrorC:   m.needNumber("probe_error_c", span{hi: 50, unit: "°C"}),
		DriftCPerMin:  m.needNumber("drift_c_per_min", span{hi: 100, unit: "°C a minute"}),
		StaleAfterMin: m.needNumber("stale_after_min", span{above: true, hi: 1440, unit: "minutes"}),
		SettlingMin:   30,
	}
	if z.StaleAfterMin > 0 && z.StaleAfterMin < LeastStaleMin {
		s.bad(m.lineOf("stale_after_min"), "stale_after_min", plain(z.StaleAfterMin),
			"at least "+plain(LeastStaleMin)+" minutes, for readings of steady air are thinned to one in 2 minutes and would count as stale though the probe is well; write "+plain(LeastStaleMin)+" or more")
	}
	if x, ok := m.number("settling_min", span{hi: 1440, unit: "minutes"}); ok {
		z.SettlingMin = x
	}
	if m.need("limits_c", "the lowest and the highest temperature that the zone can have") {
		if v := m.numbers("limits_c", limitTemp, limitTemp); v != nil {
			z.LimitLowC, z.LimitHighC = v[0], v[1]
			if v[0] > v[1] {
				s.bad(m.lineOf("limits_c"), "limits_c", plain(v[0])+" to "+plain(v[1]), "the lower limit first")
			}
		}
	}
	if err := s.err(); err != nil {
		return Zone{}, err
	}
	return z, nil
}
