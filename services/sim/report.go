package sim

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"
)

// Report is what happened in a simulated shop, and whether the shop's program
// did what was due.
type Report struct {
	Seed  uint64    `json:"seed"`
	Days  int       `json:"days"`
	Start time.Time `json:"start"`
	End   time.Time `json:"end"`

	Events      uint64         `json:"events"` // of the journal
	Opened      int            `json:"opened"` // jobs, those that stood there at the start included
	Delivered   int            `json:"delivered"`
	Beads       int            `json:"beads"` // layers of material
	Readings    int            `json:"readings"`
	Announced   int            `json:"announced"` // ends of clocks
	Asked       int            `json:"asked"`     // for leave to spray
	Permits     int            `json:"permits"`
	Revocations int            `json:"revocations"` // permits that lost their ground; not those given back
	Sprayed     int            `json:"sprayed"`     // loads
	Reworks     int            `json:"reworks"`
	Holds       map[string]int `json:"holds"`    // by reason
	Findings    map[string]int `json:"findings"` // by rule
	Planted     map[string]int `json:"planted"`  // by kind
	Checked     map[string]int `json:"checked"`  // by what was checked
	Violations  []Violation    `json:"violations"`
	Log         []string       `json:"log"` // what was planted, when

	Order *Tally `json:"order,omitempty"` // what the order of loads came to; absent: nobody kept it

	more int
}

// Violation is something that had to hold and did not.
type Violation struct {
	Seed uint64 `json:"seed"`
	When string `json:"when"` // "day 2 09:41:10"
	What string `json:"what"` // "I6", "account"
	Text string `json:"text"`
}

// String names seed, day and time.
func (v Violation) String() string {
	return fmt.Sprintf("%s broken, seed %d, %s: %s", v.What, v.Seed, v.When, v.Text)
}

func newReport(o Options) *Report {
	return &Report{
		Seed: o.Seed, Days: o.Days, Start: o.Start, Holds: map[string]int{}, Findings: map[string]int{},
		Planted: map[string]int{}, Checked: map[string]int{}, Violations: []Violation{}, Log: []string{},
	}
}

// Sound reports whether nothing was broken, missing or extra.
func (r *Report) Sound() bool { return len(r.Violations) == 0 }

// Broken counts the violations of one invariant, or of the account.
func (r *Report) Broken(what string) int {
	n := 0
	for _, v := range r.Violations {
		if v.What == what {
			n++
		}
	}
	return n
}

// mostViolations is how many are kept in words.
const mostViolations = 200

// String is the report as plain text, the same for the same seed.
func (r *Report) String() string {
	var b strings.Builder
	p := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	p("seed %d, %s to %s", r.Seed, r.Start.Format("Mon 2 Jan 2006"), r.End.Format("Mon 2 Jan 2006 15:04"))
	p("events %d, readings %d", r.Events, r.Readings)
	p("jobs opened %d, delivered %d", r.Opened, r.Delivered)
	p("layers laid %d, reworks %d, ends of clocks announced %d", r.Beads, r.Reworks, r.Announced)
	p("leave to spray asked for %d, permits %d, revoked %d, loads sprayed %d", r.Asked, r.Permits, r.Revocations, r.Sprayed)
	if r.Order != nil {
		b.WriteString(r.Order.String())
	}
	table(&b, "holds by reason", r.Holds)
	table(&b, "findings by rule", r.Findings)
	table(&b, "planted", r.Planted)
	table(&b, "checked", r.Checked)
	if r.Sound() {
		p("nothing broken, nothing missing, nothing extra")
		return b.String()
	}
	p("broken, missing or extra: %d", len(r.Violations)+r.more)
	for _, v := range r.Violations {
		p("  %s", v)
	}
	return b.String()
}

func table(b *strings.Builder, title string, m map[string]int) {
	fmt.Fprintf(b, "%s\n", title)
	for _, k := range slices.Sorted(maps.Keys(m)) {
		fmt.Fprintf(b, "  %-28s %6d\n", k, m[k])
	}
}

// checks counts what was looked at.
type checks struct{ s *sim }

func newChecks(s *sim) *checks { return &checks{s} }

func (c *checks) count(what string) { c.s.rep.Checked[what]++ }

// broken notes a violation.
func (s *sim) broken(what, format string, args ...any) {
	v := Violation{s.opt.Seed, s.when(), what, fmt.Sprintf(format, args...)}
	if len(s.rep.Violations) < mostViolations {
		s.rep.Violations = append(s.rep.Violations, v)
	} else {
		s.rep.more++
	}
	if s.err == nil && s.opt.Stop != nil && s.opt.Stop(v) {
		s.err = errHalted
	}
}

// errHalted ends a simulation at a violation.
var errHalted = errors.New("halted at a violation")
