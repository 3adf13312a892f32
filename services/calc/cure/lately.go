package cure

import "time"

// Lately is the air of a zone on average, by time, from the last reading that
// is older than a while before a moment up to the newest one by then: both
// edges and the nominal, in °C. Between two readings an edge counts by its ends
// and its middle, where it is farthest out. False with fewer than two readings.
//
// Other than the outlook of [Seen.Ahead] it does not move to and fro with each
// reading and while the next one is waited for: it is for who plans what begins
// some time from now, and guards nothing.
func (v View) Lately(at time.Time, over time.Duration) (Outlook, bool) {
	ns := nanos(at)
	last, oldest := v.at(ns), ns-int64(over)
	var o Outlook
	var sum float64
	for i := last; i > 0 && v.c.marks[i].at > oldest; i-- {
		from, to := v.c.marks[i-1].at, v.c.marks[i].at
		w := seconds(from, to)
		for _, p := range []struct {
			ns    int64
			share float64
		}{{from, 0.25}, {from + (to-from)/2, 0.5}, {to, 0.25}} {
			e := v.edges(p.ns)
			c, _ := v.nominal(p.ns)
			o.Set.Lo += e.Lo * w * p.share
			o.Set.Hi += e.Hi * w * p.share
			o.NominalC += c * w * p.share
		}
		sum += w
	}
	if sum <= 0 {
		return Outlook{}, false
	}
	return Outlook{From: at, Set: Set{o.Set.Lo / sum, o.Set.Hi / sum}, NominalC: o.NominalC / sum, NominalKnown: true}, true
}
