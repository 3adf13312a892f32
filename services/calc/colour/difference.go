package colour

import "math"

// Difference is the colour difference CIEDE2000 of two colours, with unit
// weights: CIE 142-2001 and ISO/CIE 11664-6, in the numbering of Sharma, Wu
// and Dalal, Color Research and Application 30(1), 21-30 (2005). It is the
// same both ways round, to the last bit, and 0 between equal colours.
func Difference(p, q Lab) float64 {
	c := (chroma(p.A, p.B) + chroma(q.A, q.B)) / 2            // (2), (3)
	g := 0.5 * (1 - saturation(c))                            // (4)
	a1, a2 := p.A*(1+g), q.A*(1+g)                            // (5)
	c1, c2 := chroma(a1, p.B), chroma(a2, q.B)                // (6)
	dl, dc := q.L-p.L, c2-c1                                  // (8), (9)
	l, cm := (p.L+q.L)/2, (c1+c2)/2                           // (12), (13)
	dh, h := hues(a1, p.B, a2, q.B)                           // (10), (14)
	dH := 2 * math.Sqrt(c1*c2) * math.Sin(radians(dh)/2)      // (11)
	sl := 1 + 0.015*(l-50)*(l-50)/math.Sqrt(20+(l-50)*(l-50)) // (18)
	sc, sh := 1+0.045*cm, 1+0.015*cm*waves(h)                 // (19), (20)
	turn := radians(60) * math.Exp(-(h-275)*(h-275)/625)      // twice (16)
	rt := -math.Sin(turn) * 2 * saturation(cm)                // (17), (21)
	x, y, z := dl/sl, dc/sc, dH/sh
	return math.Sqrt(math.Max(0, x*x+y*y+z*z+rt*y*z)) // (22)
}

// chroma is the distance from grey.
func chroma(a, b float64) float64 { return math.Sqrt(a*a + b*b) }

// saturation is the root of c^7/(c^7 + 25^7) in (4) and (17).
func saturation(c float64) float64 {
	const limit = 25 * 25 * 25 * 25 * 25 * 25 * 25
	c7 := c * c * c
	c7 *= c7 * c
	return math.Sqrt(c7 / (c7 + limit))
}

// hues are the difference and the mean of two hues in degrees, (7), (10) and
// (14). A grey has no hue: the difference is 0 then, the mean the other's.
func hues(a1, b1, a2, b2 float64) (dh, mean float64) {
	h1, h2 := hue(a1, b1), hue(a2, b2)
	if a1 == 0 && b1 == 0 || a2 == 0 && b2 == 0 {
		return 0, h1 + h2
	}
	dh, mean = h2-h1, (h1+h2)/2
	// Opposite hues are 180 degrees apart only up to rounding: the slack keeps
	// them on the side that the equations put exactly 180 on.
	if math.Abs(dh) <= 180+1e-9 {
		return dh, mean
	}
	if mean < 180 {
		mean += 180
	} else {
		mean -= 180
	}
	if dh > 0 {
		return dh - 360, mean
	}
	return dh + 360, mean
}

// hue is in degrees from 0 to under 360; that of a grey is 0.
func hue(a, b float64) float64 {
	h := math.Atan2(b, a) * (180 / math.Pi)
	if h < 0 {
		h += 360
	}
	return h
}

// waves is T of (15). The cosines of the multiples of h come out of one
// sine and cosine, which is what takes the time.
func waves(h float64) float64 {
	s, c := math.Sincos(radians(h))
	c2, s2 := c*c-s*s, 2*s*c
	c3, s3 := c2*c-s2*s, s2*c+c2*s
	c4, s4 := c2*c2-s2*s2, 2*s2*c2
	return 1 - 0.17*(c*cos30+s*sin30) + 0.24*c2 + 0.32*(c3*cos6-s3*sin6) - 0.20*(c4*cos63+s4*sin63)
}

var (
	sin30, cos30 = math.Sincos(radians(30))
	sin6, cos6   = math.Sincos(radians(6))
	sin63, cos63 = math.Sincos(radians(63))
)

func radians(degrees float64) float64 { return degrees * (math.Pi / 180) }
