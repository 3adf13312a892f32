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
// Every thing is a function of the lists in the book and of nothing else, so
// facts may arrive in any order: whatever leans on a changed list is derived
// again ([stale] says what does). Where a car is, which terminal stood in
// which bay, what was on a cartridge, which permit ran: all are asked as of
// the moment of the fact. What only the arrival decides is an order of two
// facts of the very same instant, and a planned volume, which is written into
// the fact when it is told.
//
// # Places and temperatures
//
// A seam's temperature is taken from the zone that its panel is in, from the
// one it came from as well while it settles, from every bay while nobody
// knows, and from the booth and every bay once its load was rolled out. A
// zone with several probes is the hull of what they say, each until it is
// stale. The set is as wide as what is not known.
//
// # Material
//
// What is laid, purged, equalised and held by a nozzle goes out of its
// cartridge. Where a volume is not told it is the planned one; when the
// cartridge is weighed or marked, the difference to the book goes to what was
// laid as planned since it was last measured, in proportion and to the
// microlitre, and only the rest is unexplained. What was told is never
// changed. A weight or a mark of more than can be there corrects nothing while
// it stands. What was spent without lying on a seam is for the layer that was
// laid next from the same cartridge.
//
// # Findings
//
// What is wrong about a fact is decided once, when it is recorded
// ([Floor.Decide]), and stands in the event as its assessment. A later fact
// that changes what an earlier one looked like (a late nozzle change, a
// withdrawal) carries the difference: findings about the earlier fact, and
// the identifiers of findings that lapsed. Replay never decides again.
//
// # Together
//
// [Floor.Reach] names what the decision on a fact leaned on and what the fact
// changes. Facts of which none reads what another writes come out the same
// whichever of them is decided first, so the journal may take them as one.
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
