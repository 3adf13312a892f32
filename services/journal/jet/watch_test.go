package jet

import (
	"context"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"seamwright/services/fault"
	"seamwright/services/journal"
)

// The time that a reader takes for a record is no silence of the server, nor
// is a long read with a record now and then.
func TestOnlySilenceEndsAWatchedRead(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		pass := func(d time.Duration) { <-time.After(d) } // driven time
		j := &Journal{silence: 10 * time.Second, replicas: 1}
		ctx, fn, end := j.watch(t.Context(), 99, func(journal.Record) error { pass(time.Hour); return nil })
		defer end()
		for n := range uint64(5) {
			pass(9 * time.Second)
			if err := fn(journal.Record{Seq: n + 1}); err != nil || ctx.Err() != nil {
				t.Fatalf("record %d: %v, %v", n+1, err, context.Cause(ctx))
			}
		}
		begun := time.Now()
		<-ctx.Done()
		if took := time.Since(begun); took != 10*time.Second {
			t.Errorf("given up after %s", took)
		}
		if err := context.Cause(ctx); !fault.Is(err, ReasonSilent) || !strings.Contains(err.Error(), "no record came for 10s, the last one was 5 of 99") {
			t.Errorf("got %v", err)
		}
	})
}
