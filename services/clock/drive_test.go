package clock_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"seamwright/services/clock"
	"seamwright/services/fault"
)

// book is a journal of lines whose follower sees a line one look late.
type book struct {
	lines []string
	seen  uint64
	waits int
}

func (b *book) Last(context.Context) (uint64, error) { return uint64(len(b.lines)), nil }

func (b *book) WaitFor(_ context.Context, seq uint64) error {
	if b.seen < seq {
		b.waits++
		b.seen = seq
	}
	return nil
}

func (b *book) write(now time.Time, what string) {
	b.lines = append(b.lines, now.Format("15:04 ")+what)
}

func TestDriveVisitsEveryMomentInOrderAndSettles(t *testing.T) {
	b := &book{}
	c := clock.NewDriven(monday)
	d := clock.NewDrive(c, b, b)
	due := monday.Add(20 * time.Minute)
	d.Add("clock", clock.Func(func(_ context.Context, now time.Time) (time.Time, error) {
		if due.IsZero() || now.Before(due) {
			return due, nil
		}
		due = time.Time{}
		b.write(now, "window opened")
		return due, nil
	}))
	told := 0
	d.Add("gate", clock.Func(func(_ context.Context, now time.Time) (time.Time, error) {
		for _, line := range b.lines[told:] { // answers what the clock wrote, at the same moment
			told++
			if strings.HasSuffix(line, "opened") {
				b.write(now, "gate clear")
			}
		}
		return now.Truncate(15 * time.Minute).Add(15 * time.Minute), nil
	}))
	if err := d.AdvanceTo(t.Context(), monday.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]string{"07:50 window opened", "07:50 gate clear"}, b.lines); diff != "" {
		t.Errorf("journal (-want +got):\n%s", diff)
	}
	if got := c.Now(); !got.Equal(monday.Add(time.Hour)) {
		t.Errorf("clock stands at %s, want 08:30", got)
	}
	if b.seen != 2 {
		t.Errorf("the follower has seen %d of 2 lines", b.seen)
	}
}

// The same script gives the same journal, however the time is cut up.
func TestDriveIsTheSameInSmallSteps(t *testing.T) {
	run := func(step time.Duration) []string {
		b := &book{}
		d := clock.NewDrive(clock.NewDriven(monday), b, b)
		for i := range 3 {
			next := monday.Add(time.Duration(i+1) * 7 * time.Minute)
			d.Add(fmt.Sprint("actor-", i), clock.Func(func(_ context.Context, now time.Time) (time.Time, error) {
				if !now.Before(next) {
					b.write(now, fmt.Sprint("from ", i))
					next = next.Add(time.Duration(i+2) * 11 * time.Minute)
				}
				return next, nil
			}))
		}
		for at := monday; at.Before(monday.Add(4 * time.Hour)); {
			at = at.Add(step)
			if err := d.AdvanceTo(t.Context(), at); err != nil {
				t.Fatal(err)
			}
		}
		return b.lines
	}
	whole, minutes := run(4*time.Hour), run(time.Minute)
	if len(whole) < 15 {
		t.Fatalf("only %d lines: %v", len(whole), whole)
	}
	if diff := cmp.Diff(whole, minutes); diff != "" {
		t.Errorf("in one go and by the minute differ:\n%s", diff)
	}
}

func TestDriveNamesWhoNeverComesToRest(t *testing.T) {
	b := &book{}
	d := clock.NewDrive(clock.NewDriven(monday), b, b)
	d.Add("chatter", clock.Func(func(_ context.Context, now time.Time) (time.Time, error) {
		b.write(now, "again")
		return time.Time{}, nil
	}))
	if err := d.Settle(t.Context()); !fault.Is(err, "never-settles") {
		t.Errorf("got %v, want never-settles", err)
	}
}

func TestDriveStopsAtAnActorsError(t *testing.T) {
	b := &book{}
	c := clock.NewDriven(monday)
	d := clock.NewDrive(c, b, b)
	d.Add("keeper", clock.Func(func(_ context.Context, now time.Time) (time.Time, error) {
		if now.After(monday) {
			return time.Time{}, errors.New("journal closed")
		}
		return monday.Add(time.Minute), nil
	}))
	err := d.AdvanceTo(t.Context(), monday.Add(time.Hour))
	if err == nil || !strings.Contains(err.Error(), "keeper at 2026-03-02T07:31:00Z: journal closed") {
		t.Errorf("got %v", err)
	}
	if got := c.Now(); !got.Equal(monday.Add(time.Minute)) {
		t.Errorf("clock stands at %s, want where it happened", got)
	}
	if err := d.AdvanceTo(t.Context(), monday); err == nil {
		t.Error("went back in time")
	}
}
