package console_test

import (
	"bufio"
	"context"
	"io"
	"strings"
	"testing"
	"time"

	"seamwright/services/console"
)

// Who follows the plan is told the first one whole, and then each change in
// one line.
func TestFollowingThePlan(t *testing.T) {
	a, c, at := plannedShop(t)
	pass := func() {
		t.Helper()
		if err := a.AdvanceTo(t.Context(), c.Now().Add(2*time.Minute)); err != nil {
			t.Fatal(err)
		}
	}
	pass()
	ctx, stop := context.WithCancel(t.Context())
	read, write := io.Pipe()
	ended := make(chan error, 1)
	go func() {
		err := console.BoothPlan{At: at, Follow: true}.Run(ctx, console.Out{W: write})
		write.Close()
		ended <- err
	}()
	lines := bufio.NewScanner(read)
	until := func(want string) {
		t.Helper()
		for lines.Scan() {
			if strings.Contains(lines.Text(), want) {
				return
			}
		}
		t.Fatalf("nothing says %q", want)
	}
	until("booth plan at 2 Mar 2026 08:00, times in UTC")
	until("2198-A")
	until("bay")
	told := make(chan error, 2)
	go func() { // the pipe is read meanwhile
		told <- console.Place{At: at, Load: "2207-B", Start: "15:00", Name: "Ansa Vellacorn"}.Run(ctx, console.Out{W: io.Discard})
		told <- a.AdvanceTo(ctx, c.Now().Add(2*time.Minute))
	}()
	until("2207-B starts")
	for range 2 {
		if err := <-told; err != nil {
			t.Error(err)
		}
	}
	stop()
	go func() { _, _ = io.Copy(io.Discard, read) }()
	if err := <-ended; err != nil {
		t.Error(err)
	}
}

// TestRefusedQuestionsNameTheFlag: what the service refuses is called as it
// was typed.
func TestRefusedQuestionsNameTheFlag(t *testing.T) {
	_, _, at := plannedShop(t)
	for want, q := range map[string]console.WhatIf{
		`--seam: "nope": must be a job and a seam`:   {Seam: "nope", Until: "14:00"},
		`--closed: "a b": must be`:                   {Closed: "a b"},
		`--open: "a b": must be`:                     {Open: "a b", To: "18:00"},
		`--load: "a b": must be`:                     {Load: "a b", Due: "18:00"},
		`--booth: prep-1: takes primer-surfacer`:     {Load: "2207-A", Booth: "prep-1", Start: "14:00"},
		`booth "booth-9" is not known; the shop has`: {Closed: "booth-9"},
	} {
		q.At = at
		if err := q.Run(t.Context(), console.Out{W: io.Discard}); err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}
