// Package cures is the service of the cure clocks: it takes zones and
// readings, and its [Keeper] says when what must be reached was surely
// reached and when what must not be passed surely was.
//
// The keeper holds the clocks of settled beads and of nozzles in one heap per
// zone, rate law and side; a bead that still settles to a new zone, or whose
// whereabouts are not known, is integrated alone until it has settled. Each
// end of a clock is one event of the journal, decided against the floor at
// the very sequence that it is appended behind, so that two keepers, or one
// that was started again, announce it once. What later knowledge takes back
// (a late or corrected reading, an implausible one, a corrected product) is
// retracted by an event that names the cause.
package cures
