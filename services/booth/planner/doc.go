// Package planner makes the booth plan of a shop's floor: it translates the
// floor at a moment into a problem of package calc/plan, has it solved, and
// tells the answer in the shop's words.
//
// It is pure. What comes out is a function of the floor, the moment and the
// search's budget; the plan that stands is read from the floor as well, where
// each load's booth and start are facts. So two services that look at the same
// floor plan the same, and one that starts again goes on where the last ended.
//
// # What is translated how
//
// A load may start from when all its beads are surely open, at the cold bound,
// until the latest begin of a first coat that surely ends before one of them
// closes, at the hot bound (see floor.Window). A bead that is not laid is a
// task of its bay before the load, with the wait and the limit that it would
// have if it were laid now; so is the scuffing of one whose window has closed.
// A load that waits for somebody's decision, or for what no time brings, is
// taken to be ready half an hour from now, and so stands behind all that is.
//
// A booth has its hours, and each gap in them is a break. One that is out of
// use is closed until it is reset. The load in it stays; so do a load whose
// permit runs, and one whose booth and start somebody has given. Later loads
// of a car come behind those that must go first, and a car is in one booth at a
// time: plans are made again until that is so.
//
// A load that is planned later than it could go is brought forward where the
// booth would stand idle and no other load is moved by it.
package planner
