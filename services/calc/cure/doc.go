// Package cure reckons how far a two-part sealer has cured, from what the
// thermometers of a zone said, and when it will have got there.
//
// # The law
//
// A sealer's label gives times at one reference temperature. At another
// absolute temperature T the reaction runs faster or slower by
//
//	k(T) = exp(-Ea/R (1/T - 1/Tref)),  R = 8.314462618 J/(mol K),  0 °C = 273.15 K
//
// which is the equation of Arrhenius in the equivalent-age form of
// ASTM C1074. The integral of k over time is the age of the bead in seconds
// at the reference temperature; a stage that the label puts at d seconds is
// reached when the age equals d. [Law] holds the activation energy Ea (one
// value, or a band when it is not well known), the reference temperature and
// the least temperature at which the maker lets the sealer cure.
//
// # The set
//
// A thermometer has an error, speaks now and then, and a room drifts between
// two readings. So the temperature of a zone is a set with a lower and an
// upper edge, not a number. At a reading it is the reading with its error,
// narrowed by what was credible before; between readings it is what both
// neighbours allow, given the fastest credible drift; after the last reading
// it widens like a cone until it meets the zone's limits. [Course] keeps the
// readings and the sets, [View] is a course as known at some moment: readings
// after that moment are left out, so that an old answer can be given again.
//
// Three ages follow: cold along the lower edge, hot along the upper edge and
// nominal along the readings themselves. With a band of activation energies
// the cold age takes the slower end at each temperature, the hot age the
// faster one. Cold and nominal stand still below the least temperature; the
// hot age never stalls. Readings that come in order and are plausible only
// bring cold and hot closer together.
//
// # The answer
//
// [Judge] gives a [Verdict] on a [Clock]. What must be reached (flow-out,
// handling, a coat window opening) is reached for sure when the cold age has
// got there; what must not be passed (nozzle gel, tooling, a coat window
// closing) is surely not passed while the hot age has not got there. Between
// the two the answer is maybe. Neither answer replaces the maker's data sheet,
// the safety data sheet or the vehicle maker's repair procedure.
//
// # Paths
//
// A car moves. [Path] strings together the zones that a seam has been in:
// each span is one course, or the hull of several while the panel settles to
// a new room or nobody knows where it is, with fixed sets for a heat source
// or a surface that was measured. Courses and paths answer the same questions
// through [Surroundings].
//
// # Cost
//
// Each straight piece of an edge is integrated by Gauss-Legendre quadrature
// to better than 1e-9, with breaks wherever the edge bends, meets a limit,
// the least temperature, or the reference temperature at which the ends of a
// band change roles. A course keeps the sums up to each reading for each law
// that is asked for, so an age costs two searches and two partial pieces
// however long it runs. A clock is due when the cumulative age of its zone
// passes a fixed target; [Keeper] therefore holds clocks in heaps keyed by
// target, and a reading costs the same with ten clocks as with a hundred
// thousand.
//
// The package knows no clock: the moment is always an argument.
package cure
