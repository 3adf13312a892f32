// Package health tells whether a process can be trusted with a gate: whether
// its fold stands at the journal's end, its disk takes what is written, its
// clock runs evenly, its actors act, and the records are still those that
// were acknowledged.
//
// A [Monitor] looks at each of these again and again in a goroutine of its
// own, so that one that hangs holds up no other and never the gate, and keeps
// what it saw last. Asking it costs no look. A check that has not answered
// within its patience is trouble by its own name: silence is never taken for
// health.
//
// The judgements ([Lag], [Even], [Moving]) are plain values that are told
// what was seen and when; the looks that feed them are thin.
package health
