package jet

import (
	"context"
	"fmt"
	"sync/atomic"
	"time"

	"seamwright/services/fault"
	"seamwright/services/journal"
)

// ReasonSilent is the reason of the fault for a server that gives a reader no
// record any more.
const ReasonSilent = "journal-silent"

// watch ends a read up to number to once no record has come for the limit of
// silence. What fn takes for a record does not count: that is not the server's
// silence. The caller calls end.
func (j *Journal) watch(ctx context.Context, to uint64, fn func(journal.Record) error) (_ context.Context, _ func(journal.Record) error, end func()) {
	ctx, cancel := context.WithCancelCause(ctx)
	var last atomic.Uint64 // record that came
	limit := time.AfterFunc(j.silence, func() { cancel(j.silent(last.Load(), to)) })
	taken := func(r journal.Record) error {
		limit.Stop()
		defer limit.Reset(j.silence)
		last.Store(r.Seq)
		return fn(r)
	}
	return ctx, taken, func() {
		limit.Stop()
		cancel(nil)
	}
}

// silent is the fault of a silence behind a record.
func (j *Journal) silent(last, to uint64) error {
	came := fmt.Sprintf("no record came for %s, the last one was %d of %d", j.silence, last, to)
	if last == 0 {
		came = fmt.Sprintf("none of %d records came within %s", to, j.silence)
	}
	if n := j.replicas; j.together {
		return fault.New(fault.Unavailable, ReasonSilent,
			fmt.Sprintf("of the %d servers that keep the shop's journal no majority answers: %s", n, came),
			fmt.Sprintf("see that at least %d of them run, are not halted and reach each other, then try again", n/2+1))
	}
	return fault.New(fault.Unavailable, ReasonSilent, "the shop's journal server does not answer: "+came,
		"see that it runs and is not halted, then try again")
}
