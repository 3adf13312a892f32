// Package journal appends to and follows the one durable journal of a shop.
//
// # What is ordered
//
// The records of a shop stand in one line and carry contiguous numbers from
// 1. An append names the number that it expects to be the last; it takes
// effect as a whole, directly behind that number, or not at all. So of any
// two writers exactly one gets each number, and whoever decided on old news
// is told so by a [ConflictError]. The order is the order in which the
// journal heard; when a fact happened stands inside it.
//
// # What an acknowledgement means
//
// Append without an error means that every record of the call is on disk,
// once, with the bytes that were given. An error of kind unavailable means
// that the outcome is not known: the records may be there or may still
// arrive, at exactly the numbers that the call expected, or never.
//
// # What may repeat
//
// No record is handed to a follower twice by one call of Follow, and none is
// stored twice by one call of Append, however often that had to try. A
// caller that repeats an append (a terminal that never heard the answer)
// repeats it with the same command id. The journal refuses an id with a
// [TakenError] as long as it remembers it: surely when the record stands
// directly behind the expected number, and for the time of its dedupe window
// (minutes) otherwise. Where an old expectation and a known id meet, either
// error may come; who gets a conflict reads on and will find the id.
// Ids that come back days later are known to the fold, which keeps them all:
// [Writer] asks it before every append, at the very number that the append
// expects, so nothing slips between.
//
// # What goes together
//
// A [Writer] runs commands one at a time. Where others wait it takes those
// that do not depend on each other, as the fold says ([Reacher]). A few are
// sent one behind the other without waiting ([Chainer]); two dozen or more are
// appended as one. Each is decided on what is on disk, so that nothing is
// seen that may still be refused, and each gets the answer that it would have
// got alone. One that depends on another waits until that is folded. Who
// sends many commands does not keep others waiting: callers take turns, and
// what is urgent goes first.
//
// # How a follower catches up
//
// Follow begins at the number that it was given, hands over what is stored
// already, then what arrives, without end. It checks that no number is
// missing; a hole ends it with a [GapError]. When the connection or the
// server-side reader goes away, it makes a new one behind the last record
// that was handed over. It ends only with the context, with the error of the
// function, with a hole, or when the journal was closed. A fold that is
// rebuilt begins again at 1; there are no snapshots.
package journal
