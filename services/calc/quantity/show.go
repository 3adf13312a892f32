package quantity

import (
	"math"
	"math/big"
	"strconv"
	"strings"
)

// Round writes x with so many decimal places, halves away from zero, judged
// on the decimal that x prints as: 2.675 becomes 2.68 as on paper, although
// its binary form lies a little below. There is no negative zero. What is not
// a finite number is written "unknown".
func Round(x float64, places int) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return "unknown"
	}
	r, _ := new(big.Rat).SetString(strconv.FormatFloat(x, 'g', -1, 64))
	s := r.FloatString(places) // rounds halves away from zero
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return s
}

// Apart writes x with at least so many decimal places, and with as many more
// as show that it is not from: 85.04 beside 85 is "85.04" with one place asked
// for, 85.6 is "85.6". Equal numbers get the places asked for.
func Apart(x, from float64, places int) string {
	const most = 17 // all figures of a number of about 1
	for ; places < most; places++ {
		if s := Round(x, places); x == from || math.IsNaN(x) || s != Round(from, places) {
			return s
		}
	}
	return strconv.FormatFloat(x, 'g', -1, 64)
}

// figures writes x with about so many figures: the more before the point,
// the fewer behind it, and none of the figures before the point is dropped.
func figures(x float64, n int) string {
	places := n
	for size := math.Abs(x); size >= 1 && places > 0; size /= 10 {
		places--
	}
	return Round(x, min(places, n-1))
}

// Show writes the temperature to 0.1 °C or 1 °F, as probes are read.
func (t Temperature) Show(s System) string {
	if s == US {
		return Round(t.F(), 0) + " °F"
	}
	return Round(t.C(), 1) + " °C"
}

// Show writes the difference to 0.1 K or 0.1 °F.
func (d TemperatureDifference) Show(s System) string {
	if s == US {
		return Round(d.F(), 1) + " °F"
	}
	return Round(d.K(), 1) + " K"
}

// Show writes the length to 0.1 mm below 100 mm and to 1 mm above it, or to
// 0.01 in below 10 in, 0.1 in above.
func (l Length) Show(s System) string {
	if s == US {
		if math.Abs(l.In()) < 10 {
			return Round(l.In(), 2) + " in"
		}
		return Round(l.In(), 1) + " in"
	}
	if math.Abs(l.MM()) < 100 {
		return Round(l.MM(), 1) + " mm"
	}
	return Round(l.MM(), 0) + " mm"
}

// Show writes the area with three figures.
func (a Area) Show(s System) string {
	if s == US {
		return Round(a.In2(), 4) + " in²"
	}
	return figures(a.MM2(), 3) + " mm²"
}

// Show writes the volume with three figures, as finely as a cartridge can be
// marked or weighed.
func (v Volume) Show(s System) string {
	if s == US {
		return figures(v.FlOz(), 3) + " fl oz"
	}
	return figures(v.ML(), 3) + " ml"
}

// Show writes the mass to 0.1 g below 100 g and to 1 g above it, or to 0.01
// oz.
func (m Mass) Show(s System) string {
	if s == US {
		return Round(m.Oz(), 2) + " oz"
	}
	if math.Abs(m.G()) < 100 {
		return Round(m.G(), 1) + " g"
	}
	return Round(m.G(), 0) + " g"
}

// Both writes a measure in both systems of units: "12.7 mm (0.50 in)".
func Both(m interface{ Show(s System) string }) string {
	return m.Show(Metric) + " (" + m.Show(US) + ")"
}

// ShowSeconds writes the duration to the second below an hour, else to the
// minute, and cannot be taken for a time of day: "45 s", "4 min 30 s",
// "12 min", "2 h 05 min".
func (d Duration) ShowSeconds() string {
	size := math.Floor(math.Abs(d.S()) + 0.5)
	if !(size < 3600) || size < 60 {
		return d.Show()
	}
	out := Round(math.Floor(size/60), 0) + " min"
	if s := math.Mod(size, 60); s > 0 {
		out += " " + Round(s, 0) + " s"
	}
	if d < 0 {
		out = "-" + out
	}
	return out
}

// Show writes the duration to the second below two minutes, else to the
// minute: "45 s", "15 min", "2 h 05 min".
func (d Duration) Show() string {
	if math.IsNaN(d.S()) || math.IsInf(d.S(), 0) {
		return "unknown"
	}
	sign, size := "", math.Abs(d.S())
	if d < 0 {
		sign = "-"
	}
	if seconds := Round(size, 0); size < 119.5 {
		if seconds == "0" {
			sign = ""
		}
		return sign + seconds + " s"
	}
	minutes := math.Floor(size/60 + 0.5)
	if minutes < 120 {
		return sign + Round(minutes, 0) + " min"
	}
	h := math.Floor(minutes / 60)
	m := Round(minutes-60*h, 0)
	if len(m) < 2 {
		m = "0" + m
	}
	return sign + Round(h, 0) + " h " + m + " min"
}
