// Package quantity holds the measures that a body shop reads and writes as
// types: temperature and temperature difference, length, area, volume,
// duration, mass and money. Each is kept in one metric unit, read from and
// shown in metric or US customary units, and rounded only where it is shown.
//
// A parser takes a number (12.5, 3/8, 1 1/2) and a unit; a number alone is
// in the unit that the type is kept in. What it refuses comes back as a fault
// of kind Invalid that names the field, what stood there, what is allowed and
// an example. Nothing rounded is ever reckoned with.
package quantity

// System is a system of units to show measures in. The zero value is metric.
type System uint8

// The systems.
const (
	Metric System = iota
	US            // United States customary
)
