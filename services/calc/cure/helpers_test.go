package cure

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// t0 is the morning on which every example of these tests begins.
var t0 = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

// minute is m minutes after eight.
func minute(m float64) time.Time { return t0.Add(time.Duration(m * float64(time.Minute))) }

// bay is a zone with round numbers.
func bay() Zone {
	return Zone{
		Limits: Set{5, 35}, ProbeErrorC: 0.5, DriftPerMin: 0.2,
		StaleAfter: 15 * time.Minute, Settling: 30 * time.Minute,
	}
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// courseOf builds a course from readings at minutes after eight.
func courseOf(t testing.TB, z Zone, at ...[2]float64) *Course {
	t.Helper()
	c, err := NewCourse(z)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range at {
		if _, err := c.Append(Reading{At: minute(r[0]), C: r[1]}); err != nil {
			t.Fatal(err)
		}
	}
	return c
}

func near(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.12g, want %.12g within %.3g (off by %.3g)", what, got, want, tol, got-want)
	}
}

func sameSet(t testing.TB, what string, got Set, lo, hi float64) {
	t.Helper()
	near(t, what+" lower edge", got.Lo, lo, 1e-9)
	near(t, what+" upper edge", got.Hi, hi, 1e-9)
}

// What rapid draws.

func drawZone(t *rapid.T) Zone {
	z := bay()
	lo := rapid.IntRange(-10, 18).Draw(t, "lo")
	z.Limits = Set{float64(lo), float64(lo + rapid.IntRange(5, 40).Draw(t, "width"))}
	z.ProbeErrorC = float64(rapid.IntRange(0, 20).Draw(t, "e")) / 10
	z.DriftPerMin = float64(rapid.IntRange(0, 10).Draw(t, "d")) / 10
	z.StaleAfter = time.Duration(rapid.IntRange(1, 60).Draw(t, "stale")) * time.Minute
	return z
}

func drawLaw(t *rapid.T) Law {
	low := float64(rapid.IntRange(20, 100).Draw(t, "lowKJ")) * 1000
	high := low + float64(rapid.IntRange(0, 3).Draw(t, "bandKJ"))*10000
	l := must(NewBand(low, high, float64(rapid.IntRange(15, 25).Draw(t, "ref"))))
	if rapid.Bool().Draw(t, "hasMin") {
		l = must(l.WithMinTemp(float64(rapid.IntRange(0, 20).Draw(t, "min"))))
	}
	return l
}

// drawReadings draws readings at whole seconds, in order, mostly plausible.
func drawReadings(t *rapid.T, most int) []Reading {
	n := rapid.IntRange(0, most).Draw(t, "n")
	at, c := t0, float64(rapid.IntRange(-5, 40).Draw(t, "first"))
	var rs []Reading
	for range n {
		at = at.Add(time.Duration(rapid.IntRange(1, 1800).Draw(t, "gap")) * time.Second)
		c += float64(rapid.IntRange(-40, 40).Draw(t, "step")) / 10
		c = math.Max(-50, math.Min(90, c))
		rs = append(rs, Reading{At: at, C: c, ExtraErrorC: float64(rapid.IntRange(0, 2).Draw(t, "extra")) / 4})
	}
	return rs
}

func build(t testing.TB, z Zone, rs []Reading) *Course {
	t.Helper()
	c := must(NewCourse(z))
	for _, r := range rs {
		if _, err := c.Append(r); err != nil {
			t.Fatal(err)
		}
	}
	return c
}

// drawTime draws a whole second around the readings.
func drawTime(t *rapid.T, name string) time.Time {
	return t0.Add(time.Duration(rapid.IntRange(-3600, 6*3600).Draw(t, name)) * time.Second)
}
