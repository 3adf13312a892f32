package app_test

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/app"
	"seamwright/services/bus"
	"seamwright/services/fault"
)

// The matrix: every fault against every face that the gate shows to people
// and machines. Whatever breaks, each face says HOLD within two seconds of the
// moment from which the fault can be known, by a name of its own; a permit
// that ran is taken back by an event that names the cause as soon as the
// journal can be written; and when the fault has gone there is no permit but
// for a painter who asks again.

// soon is how long a face may take.
const soon = 2 * time.Second

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

// asked breaks a shop in which nobody has leave, and asks for it.
func (r row) asked(l *lane, got *cells) {
	l.t.Helper()
	defer l.close()
	if r.prepare != nil {
		r.prepare(l)
	}
	l.pass(2 * time.Second)
	r.broken(l)
	l.pass(soon)
	if r.wanted == "-" {
		got.note(r.fault, request, r.why)
		return
	}
	want := r.name
	if r.wanted != "" {
		want = r.wanted
	}
	resp, err := l.ask()
	switch {
	case err != nil:
		l.t.Errorf("%s: asking for leave: %v (%s), want it held by %s", r.fault, err, fault.ReasonOf(err), want)
	case resp.GetPermit() != nil:
		l.t.Errorf("%s: leave was given", r.fault)
	case !slices.Contains(reasonsOf(resp.GetReasons()), want):
		l.t.Errorf("%s: asking for leave is held by %v, want %s", r.fault, reasonsOf(resp.GetReasons()), want)
	default:
		got.note(r.fault, request, "HOLD")
	}
	for _, x := range resp.GetReasons() {
		if len(x.GetText()) < 20 || x.GetSubject() == "" {
			l.t.Errorf("%s: a bare reason: %v", r.fault, x)
		}
	}
	if ps := l.permits(); len(ps) > 0 {
		l.t.Errorf("%s: the journal holds %v, nobody got leave", r.fault, ps)
	}
}

// held breaks a shop in which a permit runs.
func (r row) held(l *lane, got *cells) {
	l.t.Helper()
	defer l.close()
	if r.prepare != nil {
		r.prepare(l)
	}
	l.pass(2 * time.Second)
	r.permitted(l)
	r.broken(l)
	r.closes(l, got)
	if r.mend == nil {
		l.again()
	} else {
		r.mend(l)
	}
	r.stays(l, got)
}

// permitted gets leave, and sees it everywhere.
func (r row) permitted(l *lane) {
	l.t.Helper()
	sign, shows := boothv1.Sign_SIGN_CLEAR, "clear"
	if r.leave != nil {
		sign, shows = boothv1.Sign_SIGN_OVERRIDE, "override"
		r.leave(l)
	} else if resp, err := l.ask(); err != nil || resp.GetPermit() == nil {
		l.t.Fatalf("%s: before it nobody gets leave: %v, %v", r.fault, reasonsOf(resp.GetReasons()), err)
	}
	l.pass(2 * time.Second)
	if s, _ := l.page.shown(0); s != shows || l.gate().GetSign() != sign || l.judged().Sign != app.BeatOf(l.gate()).Sign {
		l.t.Fatalf("%s: with leave the screen says %q, the gate %s, the bus %s", r.fault, s, l.gate().GetSign(), l.judged().Sign)
	}
}

// closes watches the faces for the time that they have, and then for a
// little longer.
func (r row) closes(l *lane, got *cells) {
	l.t.Helper()
	beats := l.beatCount()
	began := time.Now()
	at := map[string]time.Duration{}
	for since := time.Duration(0); since <= soon; since = time.Since(began) {
		synctest.Wait()
		for _, f := range []string{running, screen, heartbeat} {
			if _, ok := at[f]; !ok && r.closed(l, f, beats) == "" {
				at[f] = since
			}
		}
		l.pass(100 * time.Millisecond)
	}
	for _, f := range []string{running, screen, heartbeat} {
		if _, ok := at[f]; !ok {
			l.t.Errorf("%s: after %s the %s: %s", r.fault, soon, f, r.closed(l, f, beats))
			continue
		}
		got.note(r.fault, f, fmt.Sprintf("HOLD %.1f s", at[f].Seconds()))
	}
	beats, shown := l.beatCount(), l.page.count()
	l.pass(3 * time.Second)
	r.silent(l, beats, shown)
}

// closed says what is wrong with a face; empty: it holds as it should.
func (r row) closed(l *lane, face string, beats int) string {
	var g *boothv1.Gate
	switch face {
	case running:
		g = l.gate()
	case heartbeat:
		all := l.heard(beats)
		if len(all) == 0 {
			return "no beat came"
		}
		g = all[len(all)-1]
		if v := l.judged(); v.Sign != bus.Hold {
			return "a reader on the bus takes it for " + string(v.Sign)
		}
	case screen:
		page := l.page.load()
		if s, _ := l.page.shown(0); s != "hold" && s != "" {
			return "the stream shows " + s
		}
		if s := state(page); s != "hold" && s != "" {
			return "the page shows " + s
		}
		if !r.gone && !strings.Contains(page, r.words) {
			return fmt.Sprintf("the page does not say %q", r.words)
		}
		return ""
	}
	switch {
	case g.GetSign() != boothv1.Sign_SIGN_HOLD:
		return "it says " + g.GetSign().String()
	case r.gone && g.GetPermit() == nil:
		return ""
	case !slices.Contains(reasonsOf(g.GetReasons()), r.name):
		return fmt.Sprintf("it holds by %v, want %s", reasonsOf(g.GetReasons()), r.name)
	}
	return ""
}

// silent fails when a face has said CLEAR since.
func (r row) silent(l *lane, beats, shown int) {
	l.t.Helper()
	for _, b := range l.heard(beats) {
		if b.GetSign() != boothv1.Sign_SIGN_HOLD {
			l.t.Errorf("%s: beat %d says %s", r.fault, b.GetBeat(), b.GetSign())
		}
	}
	if _, all := l.page.shown(shown); slices.Contains(all, "clear") || slices.Contains(all, "override") {
		l.t.Errorf("%s: the screen showed %v", r.fault, all)
	}
}

// stays looks at a shop that was mended: there is no leave by itself, the
// permit was taken back by its cause, and who asks gets leave again.
func (r row) stays(l *lane, got *cells) {
	l.t.Helper()
	beats, shown := l.beatCount(), l.page.count()
	l.pass(5 * time.Second)
	r.silent(l, beats, shown)
	cause := r.name
	if r.cause != "" {
		cause = r.cause
	}
	ps := l.permits()
	if cause == "-" { // nothing can be written any more
		ps = append(ps, "revoked -")
	}
	if len(ps) != 2 || ps[0] != "issued" || !revokedFor(ps[1], cause) {
		l.t.Errorf("%s: the journal holds %v, want one permit, revoked for %s", r.fault, ps, cause)
		got.note(r.fault, running, "")
	}
	resp, err := l.ask()
	if given := resp.GetPermit() != nil; err != nil || given != (r.barred == "") {
		l.t.Errorf("%s: asked again after it was mended: given %t, %v, %v", r.fault, given, reasonsOf(resp.GetReasons()), err)
	}
	if r.barred != "" {
		return
	}
	l.pass(2 * time.Second)
	if s, _ := l.page.shown(0); s != "clear" || l.gate().GetSign() != boothv1.Sign_SIGN_CLEAR || l.judged().Sign != bus.Clear {
		l.t.Errorf("%s: with leave again the screen says %q, the gate %s %v", r.fault, s, l.gate().GetSign(), reasonsOf(l.gate().GetReasons()))
	}
}
