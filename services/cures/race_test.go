package cures_test

import (
	"context"
	"sync"
	"testing"

	"seamwright/services/cures"
	"seamwright/services/journal"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/natsd"
)

// Two processes keep the clocks of one journal at the same time, each with a
// floor of its own.
func TestTwoKeepersOnOneJournalTellOnce(t *testing.T) {
	srv, err := natsd.Start(natsd.Options{StoreDir: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	defer srv.Stop()
	var both []*yard
	var keepers []*cures.Keeper
	var journals []journal.Journal
	ctx, end := context.WithCancel(t.Context())
	var running sync.WaitGroup
	defer running.Wait()
	defer end()
	for range 2 {
		nc, err := srv.Connect("keeper")
		if err != nil {
			t.Fatal(err)
		}
		defer nc.Close()
		j, err := jet.Open(t.Context(), nc, jet.Options{Shop: "demo"})
		if err != nil {
			t.Fatal(err)
		}
		y := newYard(t, j, steady)
		running.Go(func() { _ = y.Writer.Run(ctx) })
		both, keepers, journals = append(both, y), append(keepers, cures.NewKeeper(y.Desk)), append(journals, j)
	}
	both[0].drive, both[1].drive = nil, nil
	r := &race{t, both, keepers, journals[0]}
	r.play()
	a, b := both[0], both[1]
	a.plain()
	b.plain()
	if a.Floor.Hash() != b.Floor.Hash() {
		t.Error("the two floors differ")
	}
	if n := len(a.said()); n < 12 {
		t.Errorf("only %d announcements: %v", n, a.said())
	}
	if n := len(about(a.said(), "back by")); n < 2 {
		t.Errorf("only %d were taken back", n)
	}
}

type race struct {
	t       *testing.T
	both    []*yard
	keepers []*cures.Keeper
	journal journal.Journal
}

// rest lets both keepers step side by side until neither has more to tell.
func (r *race) rest() {
	r.t.Helper()
	for {
		before, err := r.journal.Last(r.t.Context())
		if err != nil {
			r.t.Fatal(err)
		}
		var steps sync.WaitGroup
		for i, k := range r.keepers {
			steps.Go(func() {
				if err := r.both[i].Writer.WaitFor(r.t.Context(), before); err != nil {
					r.t.Error(err)
				}
				if _, err := k.Step(r.t.Context(), r.both[i].time.Now()); err != nil {
					r.t.Error(err)
				}
			})
		}
		steps.Wait()
		after, err := r.journal.Last(r.t.Context())
		if err != nil || r.t.Failed() {
			r.t.Fatal(err)
		}
		if after == before {
			return
		}
	}
}

func (r *race) until(minutes int) {
	r.t.Helper()
	for _, y := range r.both {
		y.at(minutes)
	}
	r.rest()
}

func (r *race) play() {
	y := r.both[0]
	y.furnish()
	y.read("bay-1", 21)
	y.lay("2207/rd-l", "bay-1")
	y.lay("2207/rd-r", "bay-1")
	y.lay("2207/floor", "bay-1")
	r.rest()
	for m := 3; m <= 18; m += 3 {
		r.until(m)
		y.read("bay-1", 21)
		r.rest()
	}
	y.late("bay-1", 6, 7)
	r.rest()
	for m := 24; m <= 90; m += 6 {
		r.until(m)
		y.read("bay-1", 24)
		r.rest()
	}
}
