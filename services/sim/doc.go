// Package sim is a simulated body shop in virtual time. It drives a running
// Seamwright through its public clients only: people open jobs, prep, lay and
// tool beads, plan loads, ask for leave to spray, spray, test, inspect and
// deliver; probes read true temperatures that have a course of their own;
// mistakes and faults are planted from a seed.
//
// Beside the world it keeps an account of what must be found: which findings
// are due, which reasons must hold a load at a moment or that it must be
// clear, which permits must be taken back. The account shares no code with
// the floor or the cure model (only what goes on a seam is chosen by the same
// rules, as people choose): temperature sets and ages are stepped through
// in ten-second steps from the readings as they were told ([air], [course]),
// and whoever acts in the simulated shop waits while the account is within
// two per cent of a limit, so that what is due is beyond doubt. At the end,
// and at every answer, the account is compared with what the shop said; what
// must always hold is checked from outside as it happens.
//
// The same seed gives the same shop and the same report, byte for byte.
package sim
