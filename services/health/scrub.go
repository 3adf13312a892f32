package health

import (
	"context"
	"fmt"
	"sync/atomic"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"seamwright/services/fault"
	"seamwright/services/journal"
	"seamwright/services/journal/tree"
)

// Names of what reading records again tells.
const (
	RecordChanged = "record-changed"
	ScrubSilent   = "records-unread" // records could not be read again for too long
)

// How much is read again at each look: the newest records, which a failing
// disk or a lost write is likeliest to show in, and a window that goes round
// the whole journal.
const (
	scrubTail   = 100
	scrubWindow = 1000
)

// Proof is what the records are compared with.
type Proof interface {
	tlog.HashReader
	Head() tree.Head
}

// Scrub is the check that the records are what was acknowledged. It reads at
// most scrubTail and scrubWindow records at a look. Trouble that it has found
// stays: it is for a person to answer.
type Scrub struct {
	Journal journal.Journal
	Proof   Proof
	next    uint64
	found   atomic.Pointer[error]
}

// Sound refuses facts once trouble was found: they would stand in a journal
// that is not opened again as it is.
func (s *Scrub) Sound() error {
	if found := s.found.Load(); found != nil {
		return *found
	}
	return nil
}

// Check is the check, for a Monitor.
func (s *Scrub) Check() Check {
	return Check{
		Name: ScrubSilent, What: "reading the records again", Hint: "look whether the journal's server runs and can be reached",
		Every: time.Second, Within: 10 * time.Second, Look: s.Look,
	}
}

// Look reads both windows. That the journal does not answer just now is not
// trouble of this check until its patience is over.
func (s *Scrub) Look(ctx context.Context) error {
	if err := s.Sound(); err != nil {
		return err
	}
	size := s.Proof.Head().Size
	if size == 0 {
		return nil
	}
	s.next = max(s.next, 1)
	if s.next > size {
		s.next = 1
	}
	to := min(size, s.next+scrubWindow-1)
	err := s.compare(ctx, max(size, scrubTail)-scrubTail+1, size)
	if err == nil {
		err = s.compare(ctx, s.next, to)
	}
	if err == nil {
		s.next = to + 1
		return nil
	}
	if fault.KindOf(err) == fault.Corrupt {
		s.found.Store(&err)
		return err
	}
	return fault.Because(err, fault.Unavailable, ScrubSilent, "the records cannot be read again", "look whether the journal's server runs and can be reached")
}

// compare reads records and compares each with its leaf.
func (s *Scrub) compare(ctx context.Context, from, to uint64) error {
	at := from
	err := s.Journal.Read(ctx, from, to, func(r journal.Record) error {
		want, err := s.Proof.ReadHashes([]int64{tlog.StoredHashIndex(0, int64(r.Seq)-1)})
		if err != nil {
			return err
		}
		if r.Seq == at && tree.Leaf(r) == want[0] {
			at++
			return nil
		}
		return fault.New(fault.Corrupt, RecordChanged,
			fmt.Sprintf("record %d (%s) is not what was acknowledged: its bytes were changed", r.Seq, r.Type), "stop the shop, keep its folder as it is, and verify its journal")
	})
	switch {
	case err != nil && fault.Is(err, journal.ReasonBadRecord):
		return fault.Because(err, fault.Corrupt, RecordChanged, fmt.Sprintf("record %d comes back changed", at), "stop the shop, keep its folder as it is, and verify its journal")
	case err != nil:
		return err
	case at <= to:
		return fault.New(fault.Corrupt, RecordsLost,
			fmt.Sprintf("the journal ends at record %d, but %d were acknowledged", at-1, to), "stop the shop, keep its folder as it is, and verify its journal")
	}
	return nil
}
