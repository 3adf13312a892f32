package feed

import (
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// What a painter does about a trouble of the program itself.
const (
	tellWhoever = "Tell whoever looks after the program."
	leaveFolder = "Leave its folder as it is. " + tellWhoever
	startAgain  = "Have the shop's program started again."
)

// processWords are the grounds to hold that lie in the program, its journal
// or its clock, in words of the floor: what is wrong and what to do. Own is
// the same in the program's words.
var processWords = map[string]screens.Reason{
	floor.HoldDiskFull: {
		Text: "The shop's disk is full.", Do: "Make room, then start the shop's program again.", Lost: true,
		Own: "The journal's disk is full.",
	},
	floor.HoldUnwritable: {
		Text: "What is told cannot be stored.", Do: "Have the shop's disk looked at and the program started again.", Lost: true,
		Own: "Nothing can be written to the journal.",
	},
	floor.HoldJournalClosed: {
		Text: "The shop's records are closed.", Do: startAgain, Lost: true, Own: "The journal is closed.",
	},
	floor.HoldJournalSilent: {
		Text: "The shop's records do not answer.", Do: "Wait some seconds. If it stays, see whether the shop's program runs.", Lost: true,
		Own: "The journal does not answer.",
	},
	floor.HoldProof: {
		Text: "The seals of the shop's records cannot be stored.", Do: tellWhoever, Lost: true,
		Own: "The proof of the journal cannot be kept.",
	},
	floor.HoldUnhealthy: {
		Text: "The shop's records cannot be trusted now.", Do: tellWhoever, Own: "The journal cannot be trusted now.",
	},
	floor.HoldPanic: {
		Text: "The program failed while it looked at this load.", Do: tellWhoever, Own: "The gate could not be worked out.",
	},
	floor.HoldClock: {
		Text: "The machine's clock stands before what was told already.", Do: "Have the clock set right.",
		Own: "The machine's clock stands before what the journal has heard.",
	},
	floor.HoldClockJumped: {
		Text: "The machine's clock was set while the shop was open.",
		Do:   "Make sure that it is right, wait a minute, and read the air of every bay again. Beads laid before may be counted too old or too young: ask the foreman.",
	},
	floor.HoldGatePaused: {
		Text: "The program stood still for some seconds.", Do: "Ask again. If it comes back, tell whoever looks after the program.",
		Own: "Nobody looked after the permits for some seconds: the program was paused, or too slow.",
	},
	floor.HoldFoldStopped: {
		Text: "The screens stopped at something told that they cannot take in.", Do: tellWhoever,
		Own: "The floor stopped at a record that it cannot take in.",
	},
	floor.HoldUnknownEvent: {
		Text: "The shop's records hold something that this program does not know.", Do: "A newer program wrote it: have that one started here.",
		Own: "The journal holds something that this program does not know.",
	},
	floor.HoldBadRecord: {
		Text: "One of the shop's records cannot be read.", Do: leaveFolder, Own: "A record of the journal cannot be read.",
	},
	floor.HoldGap: {
		Text: "One of the shop's records is missing.", Do: leaveFolder, Own: "A record is missing from the journal.",
	},
	floor.HoldRecordChanged: {
		Text: "One of the shop's records was changed.", Do: leaveFolder, Own: "A record of the journal was changed.",
	},
	floor.HoldRecordsLost: {
		Text: "The newest of the shop's records are lost.", Do: leaveFolder, Own: "The last records of the journal are lost.",
	},
	floor.HoldRecordsUnread: {
		Text: "The shop's records cannot be read again.", Do: tellWhoever, Own: "The journal's records cannot be read again.",
	},
	floor.HoldFollowerEnded: {
		Text: "The screens do not follow what is told any more.", Do: startAgain, Own: "The floor does not follow the journal any more.",
	},
	floor.HoldFollowerBehind: {
		Text: "The screens are behind what was told.", Do: "Wait some seconds. If it stays, have the shop's program started again.",
		Own: "The floor is behind the journal.",
	},
	floor.HoldKeeper: {
		Text: "Nobody works out how far the beads have cured.", Do: "If this stays, have the shop's program started again.",
		Own: "The cure clocks are not kept.",
	},
	floor.HoldOtherHolder: {
		Text: "A second program speaks for this booth.", Do: "Ask at its screen, or wait some seconds.",
		Own: "Another booth service speaks for this gate.",
	},
	floor.HoldBusSilent: {
		Text: "The booth's program is cut off from the others.", Do: "Have the network looked at, and see whether the shop's program runs.",
		Own: "The booth service is cut off from the bus.",
	},
}
