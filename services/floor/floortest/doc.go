// Package floortest plays scenarios of a shop that are written down in plain
// words and compares what the shop answers with what is written below them.
//
// # The texts
//
// A scenario is a file of blocks. A block begins with a heading, goes on with
// lines of what happens and what is asked, and ends with four dashes; below
// them stands what the shop said. Running the tests with -rewrite writes that
// part anew.
//
//	cold-morning
//	at 08:00
//	lay 2207/rd-l cartridge C1 nozzle N1 30ml over 2m
//	gate 2207-A
//	----
//	08:00 HOLD 2207-A
//	  coat-not-open seam/2207/rd-l: roof ditch L, flow-out 0 %, clear 08:39 ...
//
// Blank lines end a block's answer. The words that open a line are the verbs
// of the tables in this package; [Verbs] lists them.
//
// # The shop
//
// A [Shop] is anything that takes facts and lets time pass. [NewCore] is the
// floor with nothing around it but the least keeper of clocks and the least
// booth, so that the texts say what the rules mean before any service runs.
// The same texts run against the services through another Shop.
package floortest
