package floor

import (
	"fmt"
	"strings"
	"time"

	"seamwright/services/calc/spec"
)

// LayHold is why a seam must not be laid yet.
type LayHold struct {
	Reason string // for programs to compare
	Why    string // in a sentence, with what to do
}

// The reasons of a [LayHold].
const (
	LayNotPrepped = "not-prepped"
	LayOnHold     = "on-hold"
	LayWet        = "undercoat-not-dry"
	LayStale      = "undercoat-past-recoat"
)

// LayHolds lists why a seam must not be laid at a moment: it is not prepped, a
// stop about it is not answered, its undercoat is not dry yet or had to be
// sealed by then. Nothing keeps a fact from being recorded: a bead that is laid
// all the same gets its findings.
func (fl *Floor) LayHolds(s *Seam, at time.Time) []LayHold {
	var out []LayHold
	if s.Stage != Prepped {
		out = append(out, LayHold{LayNotPrepped, "It is planned and not prepped: clean and prep it, and tell so."})
	}
	for _, f := range fl.SeamFindings(s.ID) {
		if f.Severity == spec.Stop && f.Open() {
			out = append(out, LayHold{LayOnHold, fmt.Sprintf("%s; a foreman answers finding %s first.", strings.TrimSuffix(f.Reason, "."), f.ID)})
		}
	}
	u := s.under
	if u == nil {
		return out
	}
	if dry := u.late.Add(minutes(u.dryMin)); u.dryMin > 0 && at.Before(dry) {
		out = append(out, LayHold{LayWet, fmt.Sprintf("The %s under it is dry from %s: wait for it.", u.makes, clockTime(upMinute(dry)))})
	}
	if limit := u.at.Add(minutes(u.recoat)); u.recoat > 0 && at.After(limit) && !u.scuffed.After(u.at) {
		out = append(out, LayHold{LayStale, fmt.Sprintf("The %s under it had to be sealed by %s: scuff it first, and tell so.", u.makes, clockTime(limit))})
	}
	return out
}
