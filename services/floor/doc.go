// Package floor is the shop floor as a fold of its journal.
//
// A [Floor] takes the journal's events in order, one [Floor.Apply] each, and
// holds what they amount to: jobs, seams, cartridges, zones, booths and the
// findings about them. Nothing else is state: two floors that applied the
// same events have the same [Floor.Hash].
//
// # Order
//
// The journal orders events by when the shop heard them; a thing is ordered
// by when its facts happened. The floor therefore keeps, for each thing, the
// facts about it sorted by (occurred, sequence) in a [book], and derives the
// thing from that list whenever it changes. A late fact is inserted, a
// withdrawn one taken out, a corrected one replaced, and the thing is derived
// again; nothing else is special about them.
//
// # Findings
//
// What is wrong about a fact is decided once, when it is recorded
// ([Floor.Decide]), and stands in the event as its assessment. A later fact
// that changes what an earlier one looked like (a late nozzle change, a
// withdrawal) carries the difference: findings about the earlier fact, and
// the identifiers of findings that lapsed. Replay never decides again.
//
// # Permission
//
// Facts are always recorded; only permission is refused. [Floor.Gate] says
// whether a load may be sprayed from a moment on, with every reason to hold
// by name. What is unknown holds.
//
// The package knows no clock: the moment is an argument. A Floor is not safe
// for concurrent use by writers; readers may run side by side with each
// other. The journal's writer holds the lock that keeps them apart.
package floor
