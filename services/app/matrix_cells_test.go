package app_test

import (
	"fmt"
	"slices"
	"strings"
	"testing/synctest"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/app"
	"seamwright/services/bus"
	"seamwright/services/fault"
)

// asked breaks a shop in which nobody has leave, and asks for it.
func (r row) asked(l *lane, got *cells) {
	l.t.Helper()
	defer l.close()
	if r.prepare != nil {
		r.prepare(l)
	}
	l.pass(2 * time.Second)
	r.broken(l)
	l.pass(within2s)
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
	for since := time.Duration(0); since <= within2s; since = time.Since(began) {
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
			l.t.Errorf("%s: after %s the %s: %s", r.fault, within2s, f, r.closed(l, f, beats))
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
