package spec

import "math"

// difference is CIEDE2000 with unit weights: CIE 142-2001 and
// ISO/CIE 11664-6, in the numbering of Sharma, Wu and Dalal, Color Research
// and Application 30(1), 21-30 (2005).
func difference(p, q Lab) float64 {
	c := (math.Hypot(p.A, p.B) + math.Hypot(q.A, q.B)) / 2
	g := 0.5 * (1 - math.Sqrt(pow7(c)/(pow7(c)+pow7(25)))) // (4)
	c1, h1 := polar(p.A*(1+g), p.B)                        // (5) to (7)
	c2, h2 := polar(q.A*(1+g), q.B)
	dl, dc := q.L-p.L, c2-c1 // (8), (9)
	dh := h2 - h1            // (10)
	// Two opposite hues differ by 180 degrees only up to rounding: the slack
	// keeps them on the side that the equations put exactly 180 on.
	far := math.Abs(dh) > 180+1e-9
	switch {
	case c1*c2 == 0:
		dh = 0
	case far && dh > 0:
		dh -= 360
	case far:
		dh += 360
	}
	dH := 2 * math.Sqrt(c1*c2) * sin(dh/2) // (11)
	l, cm, h := (p.L+q.L)/2, (c1+c2)/2, h1+h2
	switch { // (14)
	case c1*c2 == 0:
	case !far:
		h /= 2
	case h < 360:
		h = (h + 360) / 2
	default:
		h = (h - 360) / 2
	}
	t := 1 - 0.17*cos(h-30) + 0.24*cos(2*h) + 0.32*cos(3*h+6) - 0.20*cos(4*h-63) // (15)
	sl := 1 + 0.015*(l-50)*(l-50)/math.Sqrt(20+(l-50)*(l-50))                    // (18)
	sc, sh := 1+0.045*cm, 1+0.015*cm*t                                           // (19), (20)
	turn := 30 * math.Exp(-(h-275)*(h-275)/625)                                  // (16)
	rt := -sin(2*turn) * 2 * math.Sqrt(pow7(cm)/(pow7(cm)+pow7(25)))             // (17), (21)
	x, y, z := dl/sl, dc/sc, dH/sh
	return math.Sqrt(math.Max(0, x*x+y*y+z*z+rt*y*z)) // (22)
}

func pow7(x float64) float64 { return math.Pow(x, 7) }

func sin(degrees float64) float64 { return math.Sin(degrees * math.Pi / 180) }

func cos(degrees float64) float64 { return math.Cos(degrees * math.Pi / 180) }

// polar gives chroma and hue in degrees from 0 to under 360.
func polar(a, b float64) (chroma, hue float64) {
	if a == 0 && b == 0 {
		return 0, 0
	}
	hue = math.Atan2(b, a) * 180 / math.Pi
	if hue < 0 {
		hue += 360
	}
	return math.Hypot(a, b), hue
}
