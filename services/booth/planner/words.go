package planner

import (
	"fmt"
	"strings"
	"time"
)

// Zone is the time zone of that name; UTC for one that is not known. An offset
// like "+01:00" is one too.
func Zone(name string) *time.Location {
	if t, err := time.Parse("-07:00", name); err == nil {
		return time.FixedZone(name, int(-t.Sub(time.Date(0, 1, 1, 0, 0, 0, 0, time.UTC)).Seconds()))
	}
	if z, err := time.LoadLocation(name); err == nil && name != "Local" {
		return z
	}
	return time.UTC
}

// ZoneName is the name by which Zone knows a time zone again; empty for UTC. A
// zone that has no name beyond this machine is told by its offset at a moment.
func ZoneName(z *time.Location, at time.Time) string {
	if z == nil {
		return ""
	}
	_, off := at.In(z).Zone()
	switch name := z.String(); {
	case strings.HasSuffix(name, "UTC"), name == "Local" && off == 0:
		return ""
	case name != "Local" && Zone(name) != time.UTC:
		return name
	}
	return at.In(z).Format("-07:00")
}

// hours tells moments in a time zone, seen from a day.
type hours struct {
	zone *time.Location
	now  time.Time
}

// clock is the hour of a moment.
func (h hours) clock(t time.Time) string { return t.In(h.zone).Format("15:04") }

// moment is a moment with its day where that is not today.
func (h hours) moment(t time.Time) string {
	t, now := t.In(h.zone), h.now.In(h.zone)
	if t.YearDay() == now.YearDay() && t.Year() == now.Year() {
		return t.Format("15:04")
	}
	return t.Format("2 Jan 15:04")
}

// day is the day of a moment.
func (h hours) day(t time.Time) string { return t.In(h.zone).Format("2 Jan") }

// local are the draft's hours, in the shop's zone.
func (d *Draft) local() hours {
	if d.Zone == nil {
		return hours{time.UTC, d.At}
	}
	return hours{d.Zone, d.At}
}

// speech is a draft that is told, with the hours in which it is.
type speech struct {
	*Draft
	hours
}

// layBy: "lay roof ditch L on 2207 by 13:25 or it misses the 14:10 load".
func (s speech) layBy(w Work, by, load time.Time) string {
	what := fmt.Sprintf("%s %s on %s", w.What, lower(w.Name), s.Loads[w.Load].RO)
	switch {
	case by.IsZero() && load.IsZero():
		return what + "; its load has no place"
	case by.IsZero():
		return what + "; it cannot be done before the " + s.moment(load) + " load"
	}
	return fmt.Sprintf("%s by %s or it misses the %s load", what, s.moment(by), s.moment(load))
}

// lower makes a name fit for the middle of a sentence.
func lower(s string) string {
	if len(s) > 1 && s[0] >= 'A' && s[0] <= 'Z' && s[1] >= 'a' && s[1] <= 'z' {
		return strings.ToLower(s[:1]) + s[1:]
	}
	return s
}
