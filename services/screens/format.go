package screens

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// clock prints moments in the zone of the picture's own now.
type clock struct {
	now   time.Time
	still bool // times that the page's script runs are left out
}

// At prints a moment as a person in the shop says it: "10:47" today,
// "tomorrow 10:47", "Fri 10:47" within the week, else "2 Dec 10:47". The
// zero moment prints as "unknown".
func (c clock) At(t time.Time) string {
	if t.IsZero() {
		return "unknown"
	}
	t = t.In(c.now.Location())
	if name := c.dayName(t, "Mon"); name != "" {
		return name + " " + t.Format("15:04")
	}
	return t.Format("15:04")
}

// Day prints a promise: the time if it is today, else the day alone.
func (c clock) Day(t time.Time) string {
	if t.IsZero() {
		return "no time"
	}
	t = t.In(c.now.Location())
	if name := c.dayName(t, "Monday"); name != "" {
		return name
	}
	return t.Format("15:04")
}

// dayName is empty for today.
func (c clock) dayName(t time.Time, weekday string) string {
	days := int(math.Round(midnight(t).Sub(midnight(c.now)).Hours() / 24))
	switch {
	case days == 0:
		return ""
	case days == 1:
		return "tomorrow"
	case days == -1:
		return "yesterday"
	case days > 1 && days < 7:
		return t.Format(weekday)
	}
	return t.Format("2 Jan")
}

func midnight(t time.Time) time.Time {
	y, m, d := t.Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

// Stamp prints a moment for a program: RFC 3339 with milliseconds, in UTC.
func (c clock) Stamp(t time.Time) string { return stamp(t) }

func stamp(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000Z") }

// Left prints the time from now until t as minutes and seconds, "0:00" once
// it has passed.
func (c clock) Left(t time.Time) string {
	if c.still {
		return ""
	}
	return minSec(t.Sub(c.now))
}

// Since is Ago where the page's script runs it on.
func (c clock) Since(t time.Time) string {
	if c.still {
		return ""
	}
	return c.Ago(t)
}

// Ago prints how long ago t was, in the largest fitting unit.
func (c clock) Ago(t time.Time) string {
	if t.IsZero() {
		return "never"
	}
	return age(c.now.Sub(t)) + " ago"
}

// Passed says whether t lies before now; the zero moment never does.
func (c clock) Passed(t time.Time) bool { return !t.IsZero() && t.Before(c.now) }

func minSec(d time.Duration) string {
	if d < 0 {
		d = 0
	}
	s := int(d / time.Second)
	if s >= 3600 {
		return fmt.Sprintf("%d:%02d:%02d", s/3600, s/60%60, s%60)
	}
	return fmt.Sprintf("%d:%02d", s/60, s%60)
}

// age prints a length of time: "20 s", "17 min", "3 h", "2 days".
func age(d time.Duration) string {
	switch {
	case d < 0:
		return "0 s"
	case d < 2*time.Minute:
		return fmt.Sprintf("%d s", int(d.Seconds()))
	case d < 2*time.Hour:
		return fmt.Sprintf("%d min", int(d.Minutes()))
	case d < 48*time.Hour:
		return fmt.Sprintf("%d h", int(d.Hours()))
	}
	return fmt.Sprintf("%d days", int(d.Hours()/24))
}

// minutes prints a planned length of time in whole minutes.
func minutes(d time.Duration) string { return fmt.Sprintf("%d min", int(math.Round(d.Minutes()))) }

// temp prints degrees Celsius with one decimal, nil as "unknown".
func temp(c *float64) string {
	if c == nil || math.IsNaN(*c) {
		return "temperature unknown"
	}
	return strconv.FormatFloat(*c, 'f', 1, 64) + " °C"
}

// humid prints percent relative humidity, nil as the empty string.
func humid(rh *float64) string {
	if rh == nil || math.IsNaN(*rh) {
		return ""
	}
	return strconv.FormatFloat(*rh, 'f', 0, 64) + " %"
}

// amount prints a number with a unit: whole from ten on, thousands parted by
// a comma.
func amount(v *float64, unit string) string {
	if v == nil || math.IsNaN(*v) || math.IsInf(*v, 0) {
		return "unknown " + unit
	}
	prec := 0
	if math.Abs(*v) < 10 && *v != math.Trunc(*v) {
		prec = 1
	}
	s := strconv.FormatFloat(*v, 'f', prec, 64)
	whole, frac, _ := strings.Cut(s, ".")
	for i := len(whole) - 3; i > 0 && whole[i-1] != '-'; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	if frac != "" {
		whole += "." + frac
	}
	return whole + " " + unit
}

// percent prints a part of 1, brought inside 0 and 1, as an SVG length.
func percent(part float64) string { return svgPercent(part * 100) }

func svgPercent(p float64) string {
	if math.IsNaN(p) {
		p = 0
	}
	return strconv.FormatFloat(min(max(p, 0), 100), 'f', 2, 64) + "%"
}

// wholePercent prints a part of 1 for reading: "71 %". It rounds down, so
// that 100 % is said only of what is over.
func wholePercent(part float64) string {
	if math.IsNaN(part) {
		return "unknown"
	}
	return strconv.Itoa(int(math.Floor(min(max(part, 0), 1)*100+1e-9))) + " %"
}

// upperFirst writes the first letter large, for headings made of steps.
func upperFirst(s string) string {
	for i, r := range s {
		return strings.ToUpper(string(r)) + s[i+len(string(r)):]
	}
	return s
}
