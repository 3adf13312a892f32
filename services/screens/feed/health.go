package feed

import (
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// tellWhoever is what a painter does about a trouble of the program itself.
const tellWhoever = "Tell whoever looks after the program."

// processWords are the grounds to hold that lie in the program, its journal
// or its clock, and what to do about each.
var processWords = map[string]screens.Reason{
	floor.HoldUnhealthy:      {Text: "The journal cannot be trusted now.", Do: tellWhoever},
	floor.HoldPanic:          {Text: "The gate could not be worked out.", Do: tellWhoever},
	floor.HoldClock:          {Text: "The machine's clock stands before what the journal has heard.", Do: "Set the clock."},
	floor.HoldClockJumped:    {Text: "The machine's clock was set while the shop was open.", Do: "Make sure that it is right, wait a minute, and read the air of every bay again. Beads laid before may be counted too old or too young: ask the foreman."},
	floor.HoldGatePaused:     {Text: "Nobody looked after the permits for some seconds: the program was paused, or too slow.", Do: "Ask again. If it comes back, tell whoever looks after the program."},
	floor.HoldFoldStopped:    {Text: "The floor stopped at a record that it cannot take in.", Do: tellWhoever},
	floor.HoldUnknownEvent:   {Text: "The journal holds something that this program does not know.", Do: "A newer program wrote it: have that one started here."},
	floor.HoldBadRecord:      {Text: "A record of the journal cannot be read.", Do: "Leave the folder as it is. " + tellWhoever},
	floor.HoldGap:            {Text: "A record is missing from the journal.", Do: "Leave the folder as it is. " + tellWhoever},
	floor.HoldRecordChanged:  {Text: "A record of the journal was changed.", Do: "Leave the folder as it is. " + tellWhoever},
	floor.HoldRecordsLost:    {Text: "The last records of the journal are lost.", Do: "Leave the folder as it is. " + tellWhoever},
	floor.HoldRecordsUnread:  {Text: "The journal's records cannot be read again.", Do: tellWhoever},
	floor.HoldFollowerEnded:  {Text: "The floor does not follow the journal any more.", Do: "Have the program started again."},
	floor.HoldFollowerBehind: {Text: "The floor is behind the journal.", Do: "Wait some seconds. If it stays, have the program started again."},
	floor.HoldJournalSilent:  {Text: "The journal does not answer.", Do: "Wait some seconds. If it stays, have its server looked at."},
	floor.HoldJournalClosed:  {Text: "The journal is closed.", Do: "Have the program started again."},
	floor.HoldUnwritable:     {Text: "Nothing can be written to the journal.", Do: "Have its disk and its server looked at. What is told now is not recorded."},
	floor.HoldDiskFull:       {Text: "The journal's disk is full.", Do: "Have space freed on it."},
	floor.HoldProof:          {Text: "The proof of the journal cannot be kept.", Do: tellWhoever},
	floor.HoldKeeper:         {Text: "The cure clocks are not kept.", Do: "Have the program started again if this stays."},
	floor.HoldOtherHolder:    {Text: "Another booth service speaks for this gate.", Do: "Ask at its screen, or wait some seconds."},
	floor.HoldBusSilent:      {Text: "The booth service is cut off from the bus.", Do: "Have its server and the network looked at."},
}
