package intake

import (
	"bytes"
	"strings"
	"time"
)

// MaxProbeBytes is the most that one message of a probe may have.
const MaxProbeBytes = 1 << 10

// ReadProbe reads one message of a probe. It is an object with the time of
// the reading and temp_c, maybe rh_percent and surface_c, each as in a file of
// readings; or a bare number, the air's temperature in °C, which comes back
// with the zero time: when it was read is not known, only when it was heard.
// Anything else is an invalid fault. What the probe is called in it is name.
func ReadProbe(name string, payload []byte) (Reading, error) {
	s := &sheet{name: name}
	data, err := s.slurp(bytes.NewReader(payload), MaxProbeBytes)
	if err != nil {
		return Reading{}, err
	}
	var r Reading
	if data != nil {
		r = s.probe(data)
	}
	if len(s.faults) > 0 {
		e := s.faults[0].Join(s.faults[1:]...)
		e.Hint = `send a number, or {"time": "2026-03-02T07:30:00Z", "temp_c": 21.4}`
		return Reading{}, e
	}
	return r, nil
}

func (s *sheet) probe(data []byte) Reading {
	text := strings.TrimSpace(string(data))
	if !strings.HasPrefix(text, "{") {
		c, ok := number(text, airTemp)
		if !ok {
			s.bad(0, "", text, "an object, or "+airTemp.String())
		}
		return Reading{TempC: c}
	}
	root := s.json(data)
	if root == nil {
		return Reading{}
	}
	o := s.object(root, "", "time", "temp_c", "rh_percent", "surface_c")
	return Reading{
		At:        o.moment("time", true),
		TempC:     o.number("temp_c", airTemp, true, 0),
		RHPercent: o.maybe("rh_percent", span{above: true, hi: 100, unit: "%"}),
		SurfaceC:  o.maybe("surface_c", airTemp),
	}
}

// maybe reads a number that may be absent.
func (o *object) maybe(key string, p span) *float64 {
	if o.n.keys[key] == nil {
		return nil
	}
	x := o.number(key, p, true, 0)
	return &x
}

// Timed reports whether it is known when a probe's reading was taken.
func (r Reading) Timed() bool { return r.At != time.Time{} }
