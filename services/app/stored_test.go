package app_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"seamwright/services/app"
	"seamwright/services/fault"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/tree"
)

// Two of three servers are gone, and the third still says how many records the
// journal has: verifying it ends with what is missing.
func TestAJournalWithoutAMajorityIsNotWaitedFor(t *testing.T) {
	c := newThree(t)
	r := newReal(t)
	r.past(c.urls("service"), 3)
	j, err := app.StoredAt(t.Context(), c.urls("service"), "shop", quiet())
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	if rep, err := tree.Verify(t.Context(), j, t.TempDir()); err != nil || rep.Stored == 0 {
		t.Fatalf("with three servers: %v %v", err, rep.Sentences())
	}
	led := c.leader()
	for i, s := range c.servers {
		if i != led {
			s.Shutdown()
			s.WaitForShutdown()
		}
	}
	ctx, cancel := context.WithTimeout(t.Context(), 40*time.Second)
	defer cancel()
	_, err = tree.Verify(ctx, j, t.TempDir())
	silent := fault.Is(err, jet.ReasonSilent) && strings.Contains(err.Error(), "of the 3 servers that keep the shop's journal no majority answers")
	noLead := fault.Is(err, "journal-unavailable") // the one that is left has given up leading already
	if fault.KindOf(err) != fault.Unavailable || !silent && !noLead {
		t.Errorf("got %v", err)
	}
}
