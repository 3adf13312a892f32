// Package clock holds a process's one clock and the engine that steps what
// acts by itself.
//
// An [Actor] never sleeps and never reads a clock: it is called with a
// moment, does all that is due then, and says when it wants to be called
// next. Two drivers call actors. [Loop] does so on the wall clock, by a timer
// or because the journal moved. [Drive] does so in driven time: it visits
// every actor's next moment in order, and moves the clock on only when every
// follower has seen the journal's last number and no actor has anything left
// to do. The same actors run under both, so a day in a simulated shop is a
// day in a real one, only sooner.
package clock
