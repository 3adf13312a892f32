package app_test

import (
	"context"
	"fmt"
	"testing"

	"seamwright/services/app"
	"seamwright/services/fault"
)

// An inspection folds the journal again to the floor as it stands, proves it
// on disk, and an exercise of doubt ends where it began.
func TestAnInspectionSeesTheSameFloor(t *testing.T) {
	for name, o := range map[string]app.Options{"in memory": {}, "on disk": {Dir: shopFolder(t)}} {
		t.Run(name, func(t *testing.T) {
			a := start(t, o)
			in := a.Inspect()
			c := jobsOf(t, a.Dial)
			for i := range 4 {
				if _, err := c.Record(t.Context(), opened(fmt.Sprintf("open-%04d", i), fmt.Sprint(2207+i))); err != nil {
					t.Fatal(err)
				}
				if err := in.VerifyJournal(t.Context()); err != nil {
					t.Errorf("after %d events: %v", i+1, err)
				}
			}
			live, err := in.Hash(t.Context())
			if err != nil || live != hash(a) {
				t.Errorf("hash %s, %v; the floor's is %s", live, err, hash(a))
			}
			again, err := in.ReplayHash(t.Context())
			if err != nil || again != live {
				t.Errorf("folded again the hash is %s, %v; want %s", again, err, live)
			}
			if fault.KindOf(in.VerifyJournal(cancelled(t))) == fault.Corrupt {
				t.Error("a look that was cut short calls the journal corrupt")
			}
		})
	}
}

func cancelled(t *testing.T) context.Context {
	ctx, end := context.WithCancel(t.Context())
	end()
	return ctx
}
