package health

import (
	"context"
	"fmt"
	"time"

	"seamwright/services/fault"
)

// Names of what the journal's position tells.
const (
	FollowerBehind = "follower-behind" // the fold does not come to the journal's end
	JournalSilent  = "journal-silent"  // the journal does not say where it ends
	RecordsLost    = "records-lost"    // the journal ends before the fold
)

// Grace is how long a fold may be behind the journal: what others append must
// come first.
const Grace = time.Second

// Position is the check of a fold's place in its journal.
type Position struct {
	Last    func(ctx context.Context) (uint64, error) // the journal's last number
	Folded  func() uint64                             // the fold's
	Running func() time.Duration
	lag     Lag
}

// Check is the check, for a Monitor.
func (p *Position) Check() Check {
	return Check{
		Name: JournalSilent, What: "the journal", Hint: "look whether its server runs and can be reached",
		Every: 500 * time.Millisecond, Within: 1500 * time.Millisecond, Look: p.Look,
	}
}

// Look asks once.
func (p *Position) Look(ctx context.Context) error {
	had := p.Folded() // before the journal is asked: it can only have grown since
	last, err := p.Last(ctx)
	if err != nil {
		return fault.Because(err, fault.Unavailable, JournalSilent,
			"the journal does not say where it ends", "look whether its server runs and can be reached")
	}
	if last < had {
		return fault.New(fault.Corrupt, RecordsLost,
			fmt.Sprintf("the journal ends at record %d, but %d were folded", last, had), "stop the shop and verify its journal")
	}
	if d := p.lag.See(p.Running(), p.Folded(), last); d > Grace {
		return fault.New(fault.Unavailable, FollowerBehind,
			fmt.Sprintf("the floor stands at record %d, the journal ends at %d, for %s; the limit is %s", p.Folded(), last, d.Round(100*time.Millisecond), Grace),
			"it catches up by itself; start the program again if it does not")
	}
	return nil
}
