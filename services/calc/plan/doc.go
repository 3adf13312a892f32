// Package plan puts loads into paint booths.
//
// A load occupies one booth for its process time inside one open interval. It
// begins no sooner than its release, than the end of the load before it and
// the setup from that load's colour to its own, than its tasks and their least
// lags. Late cars cost by weight and minute; a load that starts after its
// window closed, or too long after one of its tasks, is missed and costs once.
// [Problem] says it all, [Solve] answers with a [Plan].
//
// # Methods
//
// Without tasks, a label dynamic programme over sets of loads settles one
// booth, and a division of the loads over the tables of several booths settles
// those. With tasks, branch and bound settles orders, then who of a crew works
// when and which lags are kept; all of that only says that a start is no
// earlier than a rising function of other starts, so the least solution bounds
// and in the end answers. Both are begun with a plan from local search and
// prove it or better it. Where they would take too long, iterated local search
// goes on for as long as it is let: first improvement over inserting, swapping
// and moving blocks of up to four loads, in and between booths, small shakes,
// ties accepted. A move is reckoned from where it begins to where the booth
// stands as it did before, and given up when it costs too much.
//
// The plan that is told is never worse than the best that was found, and it is
// called optimal only when that was proved: by an exact method, or because it
// costs no more than the loads would one by one.
//
// # What is fixed here
//
// A booth is free from the start of the plan in its own colour, whatever a
// frozen load that ended before left in it. A load that has begun by the start
// has its tasks behind it: they are not planned. As few loads as can be are
// left without a place, whatever lateness that costs; a task that waits for one
// of a load without a place cannot be done either.
//
// What the search does not mind is put right after it: a load that pays nothing
// for a lag that is missed keeps it where its tasks alone can be done later.
//
// # What is said
//
// Each load and each task comes with a sentence for the shop. What it says is
// so: of the plan as it stands, with all else in its place, or, where it says
// that no plan does better, of every plan. Where that is not known for sure,
// or would take too long to find out, it says less.
//
// The package knows no clock and rolls no dice but its own: how long a search
// may go on is told by a function or a number of rounds, and the same seed and
// rounds give the same plan.
package plan
