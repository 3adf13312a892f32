package screens

import (
	"math"
	"testing"
	"time"
)

// TestMoments prints moments in the zone of the picture's now, over midnight
// and over the change to summer time.
func TestMoments(t *testing.T) {
	east := time.FixedZone("east", 2*3600)
	c := clock{now: time.Date(2026, 3, 2, 23, 30, 0, 0, east)}
	for _, k := range []struct {
		at   time.Time
		want string
		day  string
	}{
		{time.Date(2026, 3, 2, 21, 45, 0, 0, time.UTC), "23:45", "23:45"},
		{time.Date(2026, 3, 2, 22, 15, 0, 0, time.UTC), "tomorrow 00:15", "tomorrow"},
		{time.Date(2026, 3, 1, 12, 0, 0, 0, east), "yesterday 12:00", "yesterday"},
		{time.Date(2026, 3, 6, 8, 0, 0, 0, east), "Fri 08:00", "Friday"},
		{time.Date(2026, 3, 9, 8, 0, 0, 0, east), "9 Mar 08:00", "9 Mar"},
		{time.Date(2026, 2, 27, 8, 0, 0, 0, east), "27 Feb 08:00", "27 Feb"},
		{time.Time{}, "unknown", "no time"},
	} {
		if got := c.At(k.at); got != k.want {
			t.Errorf("At(%v) = %q, want %q", k.at, got, k.want)
		}
		if got := c.Day(k.at); got != k.day {
			t.Errorf("Day(%v) = %q, want %q", k.at, got, k.day)
		}
	}
}

func TestNumbers(t *testing.T) {
	v := func(f float64) *float64 { return &f }
	for _, k := range []struct{ got, want string }{
		{amount(v(1240), "mm"), "1,240 mm"},
		{amount(v(1234567), "mm"), "1,234,567 mm"},
		{amount(v(999), "ml"), "999 ml"},
		{amount(v(9.44), "ml"), "9.4 ml"},
		{amount(v(-1500), "ml"), "-1,500 ml"},
		{amount(v(-500), "ml"), "-500 ml"},
		{amount(v(0), "ml"), "0 ml"},
		{amount(nil, "ml"), "unknown ml"},
		{amount(v(math.NaN()), "ml"), "unknown ml"},
		{temp(v(17.94)), "17.9 °C"},
		{temp(nil), "temperature unknown"},
		{humid(v(54.4)), "54 %"},
		{humid(nil), ""},
		{percent(0.7125), "71.25%"},
		{percent(7), "100.00%"},
		{percent(math.NaN()), "0.00%"},
		{wholePercent(0.719), "71 %"},
		{wholePercent(0.9999), "99 %"},
		{wholePercent(1), "100 %"},
		{wholePercent(-1), "0 %"},
		{minSec(5*time.Minute + 12*time.Second), "5:12"},
		{minSec(3*time.Hour + 4*time.Minute + 5*time.Second), "3:04:05"},
		{minSec(-time.Second), "0:00"},
		{age(42 * time.Second), "42 s"},
		{age(17 * time.Minute), "17 min"},
		{age(3 * time.Hour), "3 h"},
		{age(50 * time.Hour), "2 days"},
		{upperFirst("über"), "Über"},
		{upperFirst(""), ""},
	} {
		if k.got != k.want {
			t.Errorf("got %q, want %q", k.got, k.want)
		}
	}
}

// TestDomID checks that ids are valid in a selector and never meet.
func TestDomID(t *testing.T) {
	ids := []string{"a", "a.b", "a_b", "a-b", "a b", "ä", "a#b", "", ".", "a.b.c", "a\"b", "A"}
	seen := map[string]string{}
	for _, id := range ids {
		d := domID("row", id)
		for _, r := range d {
			if !(r == '-' || r == '_' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z') {
				t.Errorf("%q becomes %q", id, d)
			}
		}
		if old, ok := seen[d]; ok {
			t.Errorf("%q and %q both become %q", old, id, d)
		}
		seen[d] = id
	}
}
