// Package colour compares the colours of beads: CIE L*a*b* under illuminant
// D65, read from sRGB where a photograph or a screen is all there is, and
// the colour difference CIEDE2000.
package colour

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"seamwright/services/fault"
)

// Lab is a colour in CIE L*a*b* under illuminant D65, 2 degree observer.
type Lab struct {
	L float64 // lightness, 0 to 100
	A float64 // green to red, -200 to 200
	B float64 // blue to yellow, -200 to 200
}

// What a colour may be.
const (
	MaxL  = 100.0
	MaxAB = 200.0
)

// Check refuses what is no colour, with a fault of kind Invalid.
func (c Lab) Check(field string) error {
	if !(c.L >= 0 && c.L <= MaxL) {
		return fault.Bad(field, c.L, "L from 0 to 100; measure again")
	}
	if !(math.Abs(c.A) <= MaxAB) {
		return fault.Bad(field, c.A, "a from -200 to 200; measure again")
	}
	if !(math.Abs(c.B) <= MaxAB) {
		return fault.Bad(field, c.B, "b from -200 to 200; measure again")
	}
	return nil
}

// String writes the colour as Parse reads it: "94,-0.8,2.1".
func (c Lab) String() string {
	text := func(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }
	return text(c.L) + "," + text(c.A) + "," + text(c.B)
}

// decimal is a number as people write it: no hexadecimal, no words for
// infinity.
var decimal = regexp.MustCompile(`^[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]{1,3})?$`)

// hexForm is an sRGB colour of eight bits a channel.
var hexForm = regexp.MustCompile(`^#[0-9A-Fa-f]{6}$`)

// Parse reads a colour: three numbers L,a,b, or "#rrggbb" as sRGB. The error
// is a fault of kind Invalid.
func Parse(field, text string) (Lab, error) {
	if hexForm.MatchString(text) {
		n, _ := strconv.ParseUint(text[1:], 16, 32)
		return FromSRGB(float64(n>>16)/255, float64(n>>8&255)/255, float64(n&255)/255)
	}
	parts := strings.Split(text, ",")
	var v [3]float64
	ok := len(parts) == len(v)
	for i := 0; ok && i < len(v); i++ {
		p := strings.TrimSpace(parts[i])
		x, err := strconv.ParseFloat(p, 64)
		v[i], ok = x+0, err == nil && decimal.MatchString(p) // -0 becomes 0
	}
	if !ok {
		return Lab{}, fault.Bad(field, oneLine(text), "three numbers L,a,b like 94,-0.8,2.1, or sRGB like #e8e6df")
	}
	c := Lab{v[0], v[1], v[2]}
	return c, c.Check(field)
}

// oneLine makes a typed value fit for one line of an error.
func oneLine(text string) string {
	const most = 60
	if r := []rune(text); len(r) > most {
		text = string(r[:most]) + "..."
	}
	if q := strconv.Quote(text); text == "" || q != `"`+text+`"` {
		return q
	}
	return text
}

// whiteX and the others are the white point D65 of the 2 degree observer (ASTM E308).
const whiteX, whiteY, whiteZ = 0.95047, 1.0, 1.08883

// FromSRGB turns sRGB (IEC 61966-2-1), each channel 0 to 1, into a colour.
// sRGB has D65 for its white, so nothing is adapted. A channel outside 0 to 1
// is a fault of kind Invalid.
func FromSRGB(r, g, b float64) (Lab, error) {
	for _, c := range []float64{r, g, b} {
		if !(c >= 0 && c <= 1) {
			return Lab{}, fault.Bad("srgb", fmt.Sprintf("%g,%g,%g", r, g, b), "each channel from 0 to 1")
		}
	}
	return fromXYZ(xyz(linear(r), linear(g), linear(b))), nil
}

// linear undoes the transfer function of IEC 61966-2-1.
func linear(v float64) float64 {
	if v <= 0.04045 {
		return v / 12.92
	}
	return math.Pow((v+0.055)/1.055, 2.4)
}

// xyz is the matrix from linear sRGB to CIE XYZ under D65, seven digits.
func xyz(r, g, b float64) (x, y, z float64) {
	return 0.4124564*r + 0.3575761*g + 0.1804375*b,
		0.2126729*r + 0.7151522*g + 0.0721750*b,
		0.0193339*r + 0.1191920*g + 0.9503041*b
}

// fromXYZ is CIE 15: L* = 116 f(Y) - 16, a* = 500 (f(X) - f(Y)), b* = 200
// (f(Y) - f(Z)), each relative to white. The rows of the matrix add up to
// white only to seven digits, so white and black are brought back inside 0
// to 100.
func fromXYZ(x, y, z float64) Lab {
	fx, fy, fz := labF(x/whiteX), labF(y/whiteY), labF(z/whiteZ)
	return Lab{L: min(MaxL, max(0, 116*fy-16)), A: 500 * (fx - fy), B: 200 * (fy - fz)}
}

// epsilon and kappa join the cube root of CIE Lab to its straight part.
const (
	epsilon = 216.0 / 24389
	kappa   = 24389.0 / 27
)

func labF(t float64) float64 {
	if t > epsilon {
		return math.Cbrt(t)
	}
	return (kappa*t + 16) / 116
}
