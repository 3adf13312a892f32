package planner

import (
	"fmt"
	"strings"
	"time"
)

// clock is a moment for people. Texts are in UTC, as those that stand in the
// journal; screens put them into the shop's own time.
func clock(t time.Time) string { return t.UTC().Format("15:04") }

// moment is a moment with its day where that is not the day of another.
func moment(t, now time.Time) string {
	t, now = t.UTC(), now.UTC()
	if t.YearDay() == now.YearDay() && t.Year() == now.Year() {
		return clock(t)
	}
	return t.Format("Mon 15:04")
}

// layBy: "lay roof ditch L on 2207 by 13:25 or it misses the 14:10 load".
func (d *Draft) layBy(w Work, by, load time.Time) string {
	what := fmt.Sprintf("%s %s on %s", w.What, lower(w.Name), d.Loads[w.Load].RO)
	if by.IsZero() {
		return what + "; its load has no place"
	}
	return fmt.Sprintf("%s by %s or it misses the %s load", what, moment(by, d.At), moment(load, d.At))
}

// lower makes a name fit for the middle of a sentence.
func lower(s string) string {
	if len(s) > 1 && s[0] >= 'A' && s[0] <= 'Z' && s[1] >= 'a' && s[1] <= 'z' {
		return strings.ToLower(s[:1]) + s[1:]
	}
	return s
}

// why puts a solver's sentence into the shop's words: it names tasks.
func (d *Draft) why(s string) string {
	for i, w := range d.Works {
		s = strings.ReplaceAll(s, "task "+d.Problem.Tasks[i].ID, lower(w.Name))
	}
	return strings.ReplaceAll(s, " to no colour", "")
}
