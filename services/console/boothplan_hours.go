package console

import (
	"math"
	"regexp"
	"strings"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/booth/planner"
	"seamwright/services/calc/plan"
	"seamwright/services/fault"
)

// shopTime tells hours to people, and reads them, in the time zone that a
// shop's booth plan is told in.
type shopTime struct {
	zone *time.Location
	name string // "UTC", "Etc/GMT-3", "UTC+01:00"
	now  time.Time
}

func timeOf(p *boothv1.Plan) shopTime {
	s := shopTime{planner.Zone(p.GetTimeZone()), p.GetTimeZone(), p.GetNow().AsTime()}
	if s.name == "" || strings.HasPrefix(s.name, "+") || strings.HasPrefix(s.name, "-") {
		s.name = "UTC" + s.name
	}
	return s
}

// hour is a moment with its day where that is not today; empty for none.
func (s shopTime) hour(t *timestamppb.Timestamp) string {
	if t == nil {
		return ""
	}
	return s.short(t.AsTime())
}

func (s shopTime) short(t time.Time) string {
	u, now := t.In(s.zone), s.now.In(s.zone)
	switch {
	case u.YearDay() == now.YearDay() && u.Year() == now.Year():
		return u.Format("15:04")
	case u.Sub(now).Abs() > 300*24*time.Hour:
		return u.Format("2 Jan 2006 15:04")
	}
	return u.Format("2 Jan 15:04")
}

// full is a moment with its year.
func (s shopTime) full(t time.Time) string { return t.In(s.zone).Format("2 Jan 2006 15:04") }

// reader reads moments of which the day may be left out, and keeps the first
// error.
type reader struct {
	shopTime
	err error
}

var hourForm = regexp.MustCompile(`^([01]?[0-9]|2[0-3]):[0-5][0-9]$`)

func (h *reader) may(flag, text string) *timestamppb.Timestamp {
	if text == "" {
		return nil
	}
	return h.need(flag, text)
}

func (h *reader) need(flag, text string) *timestamppb.Timestamp {
	want := "an hour of today in " + h.name + " like 14:00, or a time like 2026-03-02T14:00:00Z"
	if h.err != nil {
		return nil
	}
	if hourForm.MatchString(text) {
		if t, err := time.Parse("15:04", text); err == nil {
			y, m, d := h.now.In(h.zone).Date()
			return timestamppb.New(time.Date(y, m, d, t.Hour(), t.Minute(), 0, 0, h.zone))
		}
	}
	t, err := when(flag, text)
	if err != nil {
		h.err = fault.Bad(flag, show(text), want)
		if text == "" {
			h.err = missing(flag, want)
		}
		return nil
	}
	return timestamppb.New(t)
}

func (h *reader) text(flag, text, want string) string {
	if text == "" && h.err == nil {
		h.err = missing(flag, want)
	}
	return text
}

// spell shows whole minutes, long ones in hours or days.
func spell(m float64) string { return plan.Minutes(math.Round(m)) }
