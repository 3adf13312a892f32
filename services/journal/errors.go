package journal

import (
	"fmt"

	"seamwright/services/fault"
)

// Reasons of the faults of this package, for programs to compare.
const (
	ReasonConflict    = "journal-moved-on"
	ReasonTaken       = "command-id-taken"
	ReasonGap         = "journal-gap"
	ReasonUnknown     = "append-outcome-unknown"
	ReasonClosed      = "journal-closed"
	ReasonUnknownType = "unknown-event-type"
	ReasonBadRecord   = "bad-record"
	ReasonStopped     = "fold-stopped"
	ReasonBehind      = "fold-behind"
	ReasonEnded       = "follower-ended"
)

// ConflictError says that an append expected another last number. Nothing
// was stored. Read on and decide again.
type ConflictError struct {
	Expect uint64 // what the append expected
	Last   uint64 // the actual last number; 0 when the journal did not say
}

func (e *ConflictError) Error() string { return e.fault().Error() }

// Unwrap gives the error's kind to package fault.
func (e *ConflictError) Unwrap() error { return e.fault() }

func (e *ConflictError) fault() *fault.Error {
	now := "further on"
	if e.Last != 0 {
		now = fmt.Sprintf("at %d", e.Last)
	}
	return fault.New(fault.Conflict, ReasonConflict,
		fmt.Sprintf("the journal stands %s, the decision was made at %d", now, e.Expect),
		"read on and decide again")
}

// TakenError says that a record with this command id is already stored.
// Nothing was stored again.
type TakenError struct {
	ID  string
	Seq uint64 // the number of the first record with that id
}

func (e *TakenError) Error() string { return e.fault().Error() }

// Unwrap gives the error's kind to package fault.
func (e *TakenError) Unwrap() error { return e.fault() }

func (e *TakenError) fault() *fault.Error {
	return fault.New(fault.Exists, ReasonTaken,
		fmt.Sprintf("command %q is already in the journal at %d", e.ID, e.Seq),
		"it takes effect once; do not send it again")
}

// GapError says that records are missing: a reader wanted number Want and
// the next one that the journal still has is Got (0: none).
type GapError struct {
	Want uint64
	Got  uint64
}

func (e *GapError) Error() string { return e.fault().Error() }

// Unwrap gives the error's kind to package fault.
func (e *GapError) Unwrap() error { return e.fault() }

func (e *GapError) fault() *fault.Error {
	next := "nothing follows"
	if e.Got != 0 {
		next = fmt.Sprintf("the next one is %d", e.Got)
	}
	return fault.New(fault.Corrupt, ReasonGap,
		fmt.Sprintf("record %d is missing from the journal, %s", e.Want, next),
		"stop the shop's program, verify the store and restore it from a copy")
}

// Unsure makes the error for an append whose outcome is not known.
func Unsure(expect uint64, cause error) error {
	f := fault.Wrap(cause, fault.Unavailable, ReasonUnknown, "send the same command again, with the same id")
	f.Message = fmt.Sprintf("no answer whether record %d was stored: %v", expect+1, cause)
	return f
}

// Closed is the error of a journal after Close.
func Closed() error {
	return fault.New(fault.Unavailable, ReasonClosed, "the journal is closed", "start the shop's program again")
}
