package spec

import "seamwright/services/calc/colour"

// difference is the colour difference CIEDE2000 of two colours.
func difference(p, q Lab) float64 { return colour.Difference(colour.Lab(p), colour.Lab(q)) }
