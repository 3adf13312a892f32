package app_test

import (
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
)

// The matrix: every fault against every face that the gate shows to people
// and machines. Whatever breaks, each face says HOLD within two seconds of the
// moment from which the fault can be known, by a name of its own; a permit
// that ran is taken back by an event that names the cause as within2s as the
// journal can be written; and when the fault has gone there is no permit but
// for a painter who asks again.

// within2s is how long a face may take.
const within2s = 2 * time.Second

// The faces.
const (
	request   = "permit request"
	running   = "running permit"
	screen    = "screen"
	heartbeat = "heartbeat"
)

var faces = []string{request, running, screen, heartbeat}

// row is one fault.
type row struct {
	fault string // what breaks
	name  string // of the reason to hold
	known string // from when it can be known
	words string // what a person reads at the booth

	prepare func(*lane)                 // before the permit is asked for; nil: nothing
	leave   func(*lane) *boothv1.Permit // how leave is got; nil: the painter asks
	broken  func(*lane)                 // breaks it, and returns at the moment from which it can be known
	mend    func(*lane)                 // nil: the program is started again on a sound journal

	cause  string // that the revocation names; empty: name
	gone   bool   // after it was revoked nothing is wrong any more: HOLD by no name
	wanted string // the name that the permit request is held by; empty: name; "-": none, see why
	why    string // why a cell cannot be as the others
	barred string // why nobody can be given leave after it was mended; empty: who asks gets it
}

// required are the faults that the matrix must have.
var required = []string{
	"silent probe", "stale reading", "implausible jump", "no reading ever", "zone unknown", "car moved", "terminal of the bay silent",
	"keeper stopped", "follower behind", "consumer dead", "journal unwritable", "disk full", "sequence hole", "changed byte", "lost tail",
	"unknown event type", "panic in evaluation", "clock stepped back", "clock stepped forward", "bead disturbed", "rework after permit",
	"fact withdrawn", "two booth services at once", "NATS gone", "NATS back",
	"open stop raised after the permit", "recall of the lot", "product corrected", "override expired", "process paused", "booth faulted",
	"journal silent", "appends hang", "fault and repair at once", "late reading", "unreadable record", "monitor hangs",
}

// cells is what came of the matrix.
type cells struct {
	mu sync.Mutex
	m  map[string]map[string]string
}

func (c *cells) note(fault, face, what string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.m[fault] == nil {
		c.m[fault] = map[string]string{}
	}
	c.m[fault][face] = what
}

func TestFailClosed(t *testing.T) {
	got := &cells{m: map[string]map[string]string{}}
	rows := slices.Concat(floorRows(), processRows(), clockRows())
	known := map[string]row{}
	for _, r := range rows {
		known[r.fault] = r
		t.Run(slug(r.fault), func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) { r.asked(newLane(t), got) })
			synctest.Test(t, func(t *testing.T) { r.held(newLane(t), got) })
		})
	}
	for _, r := range realRows() {
		known[r.fault] = r.row
		t.Run(slug(r.fault), func(t *testing.T) { r.run(t, got) })
	}
	if t.Failed() || filtered() {
		return
	}
	for _, f := range required {
		r, ok := known[f]
		if !ok {
			t.Errorf("no row for %q", f)
			continue
		}
		for _, face := range faces {
			if got.m[f][face] == "" {
				t.Errorf("%s: nothing came of the face %q", f, face)
			}
		}
		t.Logf("%-34s %-20s %s", f, r.name, strings.Join(values(got.m[f]), " | "))
	}
}

func values(m map[string]string) (out []string) {
	for _, f := range faces {
		out = append(out, m[f])
	}
	return out
}

func slug(s string) string { return strings.ReplaceAll(s, " ", "-") }
