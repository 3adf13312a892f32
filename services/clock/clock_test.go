package clock_test

import (
	"sync"
	"testing"
	"time"

	"seamwright/services/clock"
	"seamwright/services/fault"
)

var monday = time.Date(2026, 3, 2, 7, 30, 0, 0, time.UTC)

func TestDrivenStandsStillAndNeverGoesBack(t *testing.T) {
	c := clock.NewDriven(monday)
	if err := c.Advance(90 * time.Second); err != nil {
		t.Fatal(err)
	}
	want := monday.Add(90 * time.Second)
	if got := c.Now(); !got.Equal(want) {
		t.Errorf("after 90 s it stands at %s, want %s", got, want)
	}
	for name, err := range map[string]error{"Set": c.Set(monday), "Advance": c.Advance(-1)} {
		if fault.KindOf(err) != fault.Invalid {
			t.Errorf("%s back in time gave %v, want an invalid fault", name, err)
		}
	}
	if got := c.Now(); !got.Equal(want) {
		t.Errorf("a refused move left it at %s, want %s", got, want)
	}
}

func TestDrivenIsReadWhileItMoves(t *testing.T) {
	c := clock.NewDriven(monday)
	var readers sync.WaitGroup
	for range 4 {
		readers.Go(func() {
			last := monday
			for range 1000 {
				now := c.Now()
				if now.Before(last) {
					t.Errorf("read %s after %s", now, last)
					return
				}
				last = now
			}
		})
	}
	for range 1000 {
		if err := c.Advance(time.Second); err != nil {
			t.Error(err)
		}
	}
	readers.Wait()
}

func TestWallHasNoMonotonicPart(t *testing.T) {
	now := clock.Wall{}.Now()
	if now != now.Round(0) || now.Location() != time.UTC {
		t.Errorf("wall clock reads %v, want UTC without a monotonic part", now)
	}
}
