// Package run plans a sealing run: in which order the seams that are ready in
// a bay are laid, out of which cartridges and through which nozzles.
//
// [Problem] says it all, [Make] answers with a [Run]: steps in order, each
// with the reason for a change of nozzle or cartridge, what is put away
// afterwards, the seams that cannot be laid with their reasons, and what laying
// them in the order that they were given in would have come to.
//
// # What is best
//
// Of two runs the better one is the first to be better in this order:
//
//  1. fewer seams left out,
//  2. fewer nozzles fitted,
//  3. fewer times that stock is passed over that must be used sooner: a lot or
//     an opened cartridge that could be used and is not, or one in use that would
//     have held the seam,
//  4. less waste in ml: purge and hold-up of every nozzle and what equalising
//     takes,
//  5. fewer cartridges opened,
//  6. less thrown away: rests that the next nozzle would take whole,
//  7. fewer changes from one product to another,
//  8. less time,
//  9. a shorter walk, counted along the panels as they were given.
//
// Nozzles come before the age of the stock: a cartridge that must be used
// sooner is passed over when that saves a nozzle, and the run says so. What is
// thrown away comes late, else no cartridge would ever be used up.
//
// # What a run may be
//
//   - A nozzle belongs to one cartridge, has one kind of tip and is used in one
//     unbroken stretch. Its tip can be cut wider, not narrower: on one nozzle the
//     cuts only grow. A tip whose cut is not known counts as not cut yet. Going
//     Cutting it takes its time, during which the nozzle rests. Going
//     back to a nozzle that was put aside would save none, as the seams may be
//     laid in any order.
//   - Between two beads no nozzle rests longer than its gel time at the bay's
//     temperature. While material flows nothing gels, yet a seam that takes
//     longer to lay than the gel time is left out: what clings to the walls of the
//     mixer does not flow.
//   - A nozzle that is on a cartridge when the run begins and is still good may
//     be used, and its cartridge then goes before its turn. Else the cartridges
//     of a product are taken in the order of their use-by date (first expired
//     first out, after TM 1-1500-204-23-6 para 6-1: the oldest first), opened ones
//     first on the same day, without going back. That costs neither a nozzle nor
//     waste.
//   - A seam is begun only on a cartridge that can finish it. One that no
//     cartridge could finish alone is laid out of new cartridges of one lot, each
//     used to its end, when its bead may have a joint ([Joins]) and the change
//     is done inside the tooling time, while the end of the bead is still wet.
//   - Each seam takes its volume and the waste percentage of it; each nozzle its
//     purge and hold-up out of its own cartridge; a cartridge that was not
//     equalised what that takes.
//   - What is left in an opened cartridge is stored with its nozzle on and
//     purged again through a new nozzle (common practice, no source).
//
// # Methods
//
// Several greedy runs are improved by local search: stretches of seams go to
// other places and cartridges. A label dynamic programme over sets of seams,
// cut short by lower bounds, then looks for better ones among the most
// promising labels of each size. Up to [ExactSeams] seams it is widened until
// nothing is left out, which settles the run, or until a fixed number of moves
// was followed, about half a second of a slow machine: few runs of the size of
// a bay's need that many. The least bound of what was not looked at then bounds
// every run ([Run.Least], and in words [Run.Gap]).
// The order that was given is always among the candidates, so a run is never
// worse than it. [Run.Proved] says whether nothing better exists within the
// rules above.
//
// Volumes are reckoned in whole µl, what is taken rounded up and what is there
// rounded down, times in whole ms. The same problem gives the same run.
package run
