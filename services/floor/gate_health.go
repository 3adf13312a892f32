package floor

import (
	"errors"

	"seamwright/services/fault"
)

// The names under which the gate holds because the process, its journal or
// its clock cannot be trusted. They are the reasons of the faults that tell
// so, and stable as the other names are.
const (
	HoldUnhealthy      = "journal-unhealthy"  // for a reason that has no name here
	HoldClock          = "clock-in-doubt"     // the clock stands before the journal's newest event
	HoldClockJumped    = "clock-jumped"       // it was set while the process ran
	HoldPanic          = "gate-failed"        // the gate could not be evaluated
	HoldGatePaused     = "gate-paused"        // nobody looked after the permits for a while
	HoldFoldStopped    = "fold-stopped"       // the floor stopped at a record
	HoldUnknownEvent   = "unknown-event-type" // a record of a type that this program does not know
	HoldBadRecord      = "bad-record"         // a record that cannot be decoded
	HoldGap            = "journal-gap"        // a record is missing
	HoldRecordChanged  = "record-changed"     // a record is not what was acknowledged
	HoldRecordsLost    = "records-lost"       // the journal ends before what was acknowledged
	HoldRecordsUnread  = "records-unread"     // records cannot be read again
	HoldFollowerEnded  = "follower-ended"     // nothing is folded any more
	HoldFollowerBehind = "follower-behind"    // the floor does not come to the journal's end
	HoldJournalSilent  = "journal-silent"     // the journal does not answer
	HoldJournalClosed  = "journal-closed"     // the journal was closed
	HoldUnwritable     = "journal-unwritable" // nothing can be written to the journal or its disk
	HoldDiskFull       = "disk-full"          // the journal's disk has no room
	HoldProof          = "proof-not-kept"     // the proof of the records cannot be written
	HoldKeeper         = "keeper-stopped"     // the keeper of the cure clocks does not act
	HoldOtherHolder    = "other-holder"       // another booth service speaks for the gates
	HoldBusSilent      = "bus-silent"         // this service does not hear itself over the bus
)

// processHolds gives each such name what it is about.
var processHolds = map[string]string{
	HoldUnhealthy: "journal", HoldClock: "clock", HoldClockJumped: "clock", HoldPanic: "gate", HoldGatePaused: "gate",
	HoldFoldStopped: "floor", HoldUnknownEvent: "floor", HoldBadRecord: "journal", HoldGap: "journal",
	HoldRecordChanged: "journal", HoldRecordsLost: "journal", HoldRecordsUnread: "journal",
	HoldFollowerEnded: "floor", HoldFollowerBehind: "floor", HoldJournalSilent: "journal", HoldJournalClosed: "journal",
	HoldOtherHolder: "gate", HoldBusSilent: "bus",
	HoldUnwritable: "journal", HoldDiskFull: "disk", HoldProof: "journal", HoldKeeper: "keeper",
}

// OfProcess reports whether a reason to hold is about the process, its
// journal or its clock. No person at the shop can answer for such a one.
func OfProcess(name string) bool { return processHolds[name] != "" }

// ProcessHolds lists those names.
func ProcessHolds() []string { return sortedKeys(processHolds) }

// troubles lists what is wrong, each by its name: the error itself, or the
// errors that were joined in it.
func troubles(err error) []Reason {
	if err == nil {
		return nil
	}
	if many, ok := err.(interface{ Unwrap() []error }); ok {
		var out []Reason
		for _, e := range many.Unwrap() {
			out = append(out, troubles(e)...)
		}
		if len(out) > 0 {
			return out
		}
	}
	name := troubleName(err)
	text := err.Error()
	if name == HoldUnhealthy {
		text = "the journal or the floor cannot be trusted: " + text
	}
	return []Reason{{Name: name, Subject: processHolds[name], Text: text}}
}

// troubleName is the name of an error: the reason of the deepest cause that
// has one here.
func troubleName(err error) string {
	name := HoldUnhealthy
	for e := err; e != nil; e = errors.Unwrap(e) {
		if f, ok := e.(*fault.Error); ok && OfProcess(f.Reason) {
			name = f.Reason
		}
	}
	return name
}
