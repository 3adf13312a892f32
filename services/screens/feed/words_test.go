package feed

import (
	"strings"
	"testing"
	"time"

	"seamwright/services/screens"
)

func TestList(t *testing.T) {
	for want, names := range map[string][]string{
		"": nil, "a": {"a"}, "a and b": {"a", "b"}, "a, b and c": {"a", "b", "c"}, "a, b and 3 more": {"a", "b", "c", "d", "e"},
	} {
		if got := list(names); got != want {
			t.Errorf("list %v: %q, want %q", names, got, want)
		}
	}
}

func TestLength(t *testing.T) {
	for want, d := range map[string]time.Duration{
		"20 s": 20 * time.Second, "8 min": 8 * time.Minute, "110 min": 110 * time.Minute, "3 h": 3 * time.Hour,
		"2 h 10 min": 130 * time.Minute, "3 days": 75 * time.Hour,
	} {
		if got := length(d); got != want {
			t.Errorf("%v: %q, want %q", d, got, want)
		}
	}
}

// A moment that must be reached is never told before it comes.
func TestByRoundsUp(t *testing.T) {
	v := &view{now: time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)}
	for want, at := range map[string]time.Time{
		"10:47": v.now.Add(107 * time.Minute), "10:48": v.now.Add(107*time.Minute + time.Second), "tomorrow 00:00": v.now.Add(15*time.Hour - time.Second),
		"unknown": {}, "Fri 09:00": v.now.Add(4 * 24 * time.Hour), "yesterday 09:00": v.now.Add(-24 * time.Hour), "12 Mar 09:00": v.now.Add(10 * 24 * time.Hour),
	} {
		if got := v.by(at); got != want {
			t.Errorf("%v is told as %q, want %q", at, got, want)
		}
	}
}

// The axis: half hours of the shop's own clock, now at about a quarter.
func TestAxis(t *testing.T) {
	zone := time.FixedZone("by a quarter", 5*3600+45*60)
	for m := range 60 {
		now := time.Date(2026, 3, 2, 10, m, 17, 0, zone)
		from, to := axis(now)
		if from.Minute()%30 != 0 || from.Second() != 0 || to.Sub(from) != 5*time.Hour {
			t.Fatalf("at %s the axis is %s to %s", now, from, to)
		}
		if part := float64(now.Sub(from)) / float64(to.Sub(from)); part < 0.2 || part > 0.3 {
			t.Errorf("at %s now stands at %.2f of the axis", now, part)
		}
	}
}

func TestShortWordsAreShort(t *testing.T) {
	for rule, w := range short {
		if len(w) > 50 {
			t.Errorf("%s: %q is too long for a row of the board", rule, w)
		}
	}
	if shopName("harrow-street") != "Harrow Street" {
		t.Error("the shop's name is not put into words")
	}
}

func TestUnreadFieldsAreRefused(t *testing.T) {
	f := newFields(map[string]string{"volume_ml": "12x", "grit": "320", "minutes": "-1"})
	f.number("volume_ml", 0, 100, "ml")
	f.minutes("minutes", time.Hour)
	err := f.done()
	for _, want := range []string{"volume_ml: 12x", "grit: 320", "minutes: -1"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v does not name %q", err, want)
		}
	}
	if got := seamFact(screens.DoScuff, "1/a", newFields(nil)); got == nil {
		t.Error("no fact of a scuff")
	}
}
