package app_test

import (
	"context"
	"fmt"
	"net/http"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/app"
	"seamwright/services/bus"
	"seamwright/services/floor"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/natsd"
)

// realRow is a fault of the machine, on the machine: in its own time, over
// its own sockets and files. It waits for what must come, with a deadline,
// and counts beats, which come each half second; it measures no time.
type realRow struct {
	row
	run func(t *testing.T, got *cells)
}

const (
	comes     = 30 * time.Second // the longest wait for what must come
	mostClear = 5                // beats that may still say CLEAR: of two seconds, and one that was on its way
)

func realRows() []realRow {
	return []realRow{
		{row{fault: "disk full", name: floor.HoldDiskFull, known: "the next look at it (each second)", words: "disk is full."}, diskFull},
		{row{fault: "NATS gone", name: floor.HoldJournalSilent, known: "the connection ends, or a question has come to its time (1.5 s)"}, natsGone},
		{row{fault: "NATS back", name: floor.HoldJournalSilent, known: "the connection is back"}, func(t *testing.T, got *cells) {
			if got.of("NATS back", running) == "" && !filtered() {
				t.Error("nothing came of it where the server came back")
			}
		}},
		{row{fault: "process paused", name: floor.HoldGatePaused, known: "the process runs on; before, by silence (1.8 s)"}, paused},
	}
}

// filtered reports whether only some of the rows are run.
func filtered() bool { return strings.Contains(flagRun(), "/") }

func (c *cells) of(fault, face string) string {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.m[fault][face]
}

// real is a lane in the machine's own time.
type real struct {
	*lane
	bus  sync.Mutex
	says bus.Verdict // the newest, of a reader on the bus
	mark int         // entries of permits before the one that ran when it broke
}

func newReal(t *testing.T) *real {
	t.Helper()
	l := &lane{t: t, clock: &skewed{}, proof: t.TempDir(), bad: newFaulty(nil)}
	l.live()
	return &real{lane: l}
}

// folder is a shop's folder with a past.
func (r *real) folder(dir string) {
	r.t.Helper()
	r.proof = app.ProofFolder(dir)
	s, err := natsd.Start(natsd.Options{StoreDir: app.StoreFolder(dir), Logger: quiet()})
	if err != nil {
		r.t.Fatal(err)
	}
	defer s.Stop()
	nc, err := s.Connect("test")
	if err != nil {
		r.t.Fatal(err)
	}
	defer nc.Close()
	j, err := jet.Open(r.t.Context(), nc, jet.Options{Shop: "shop"})
	if err != nil {
		r.t.Fatal(err)
	}
	r.store = j
	r.furnish()
	people, err := os.ReadFile("../../testdata/shop/people.yaml")
	if err == nil {
		err = os.WriteFile(app.PeopleFile(dir), people, 0o600)
	}
	if err != nil {
		r.t.Fatal(err)
	}
}

// serve starts the program with its own sockets and joins it.
func (r *real) serve(o app.Options) {
	r.t.Helper()
	o.GRPC, o.Screens, o.Log = "127.0.0.1:0", "127.0.0.1:0", quiet()
	var err error
	if r.app, err = app.New(o); err != nil {
		r.t.Fatal(err)
	}
	if err := r.app.Start(r.t.Context()); err != nil {
		r.t.Fatal(err)
	}
	c, err := r.app.Dial()
	if err != nil {
		r.t.Fatal(err)
	}
	r.meet(c, &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}, "http://"+r.app.Addr().Screens)
}

// listen reads the gate on the bus.
func (r *real) listen(url string) {
	ctx, cancel := context.WithCancel(context.Background())
	var all sync.WaitGroup
	all.Go(func() {
		err := app.Gatepost{URL: url, Shop: "shop", Booth: theBooth, Log: quiet()}.Read(ctx, func(v bus.Verdict, _ int) bool {
			r.bus.Lock()
			defer r.bus.Unlock()
			r.says = v
			return true
		})
		if err != nil {
			r.t.Error(err)
		}
	})
	r.ends = append(r.ends, func() { cancel(); all.Wait() })
}

func (r *real) verdict() bus.Sign {
	r.bus.Lock()
	defer r.bus.Unlock()
	return r.says.Sign
}

// until waits for a condition.
func (r *real) until(what string, ok func() bool) {
	r.t.Helper()
	each := time.NewTicker(20 * time.Millisecond)
	defer each.Stop()
	late := time.After(comes)
	for !ok() {
		select {
		case <-each.C:
		case <-late:
			shown, _ := r.page.shown(0)
			var ps []string
			if r.app != nil {
				ps = r.permits()
			}
			r.t.Fatalf("%s: not within %s; the gate: %v; the screen: %s; the bus: %v; the journal's permits: %v", what, comes, r.gate(), shown, r.verdict(), ps)
		}
	}
}

// leave asks until leave is given and everybody sees it. On a machine that is
// too busy the gate may take it back, for nobody looked after it, or the reader
// on the bus may have held under it; then it is asked for again.
func (r *real) leave() {
	r.t.Helper()
	r.until("CLEAR on every face", func() bool {
		if r.brokenOff() {
			r.giveBack()
		}
		if r.gate().GetPermit() == nil {
			if resp, err := r.ask(); err != nil || resp.GetPermit() == nil {
				return false
			}
		}
		shown, _ := r.page.shown(0)
		return r.gate().GetSign() == boothv1.Sign_SIGN_CLEAR && shown == "clear" && r.verdict() == bus.Clear
	})
	if r.app != nil {
		r.mark = len(r.permits())
	}
}

// brokenOff reports whether the reader on the bus held under the leave that
// runs, and does not show it again.
func (r *real) brokenOff() bool {
	r.bus.Lock()
	defer r.bus.Unlock()
	return len(r.says.Reasons) > 0 && r.says.Reasons[0].Name == bus.HoldBrokenOff
}

// giveBack gives back the permit that runs, if one does. Whether it went is
// for the caller to see: the gate may have taken it back meanwhile.
func (r *real) giveBack() {
	r.t.Helper()
	if p := r.gate().GetPermit(); p != nil {
		_, _ = r.booth.ReturnPermit(r.t.Context(), &boothv1.ReturnPermitRequest{Stamp: r.stamp(floorv1.Role_ROLE_PAINTER), PermitId: p.GetPermitId()})
	}
}

// revoked reports whether the permit that ran when it broke was taken back
// for a cause, and no other was given.
func (r *real) revoked(cause string) bool {
	p := r.permits()
	return len(p) == r.mark+1 && revokedFor(p[r.mark], cause)
}

// closes waits until every face holds by a name, and counts the beats that
// said otherwise. Without a name any that is about the process will do.
func (r *real) closes(fault, name, words string, since int, got *cells) {
	r.t.Helper()
	held := func(g *boothv1.Gate) bool {
		return g.GetSign() == boothv1.Sign_SIGN_HOLD && slices.ContainsFunc(reasonsOf(g.GetReasons()), func(n string) bool {
			return n == name || name == "" && floor.OfProcess(n)
		})
	}
	r.until(fault+": the gate", func() bool { return held(r.gate()) })
	got.note(fault, running, "HOLD")
	r.until(fault+": the screen", func() bool {
		shown, _ := r.page.shown(0)
		return shown == "hold" && strings.Contains(r.page.load(), words)
	})
	got.note(fault, screen, "HOLD")
	r.until(fault+": the beat", func() bool {
		b := r.heard(since)
		return len(b) > 0 && held(b[len(b)-1])
	})
	r.until(fault+": the bus", func() bool { return r.verdict() == bus.Hold })
	clear := 0
	for _, b := range r.heard(since) {
		if b.GetSign() != boothv1.Sign_SIGN_HOLD {
			clear++
		}
	}
	if clear > mostClear {
		r.t.Errorf("%s: %d beats said CLEAR, %d may", fault, clear, mostClear)
	}
	got.note(fault, heartbeat, fmt.Sprintf("HOLD after %d beats", clear))
}

// refused asks for leave, which must be held by a name.
func (r *real) refused(fault, name string, got *cells) {
	r.t.Helper()
	resp, err := r.ask()
	if err != nil || resp.GetPermit() != nil || !slices.Contains(reasonsOf(resp.GetReasons()), name) {
		r.t.Errorf("%s: asked: %v, %v, want it held by %s", fault, resp, err, name)
		return
	}
	got.note(fault, request, "HOLD")
}

// stays looks at a shop that was mended: the permit was taken back for a
// cause, nothing says CLEAR, and who asks gets leave.
func (r *real) stays(fault, cause string, since int) {
	r.t.Helper()
	r.until(fault+": the permit is taken back", func() bool { return r.revoked(cause) })
	beat := r.beatCount()
	r.until(fault+": beats that hold", func() bool { return len(r.heard(beat)) >= 3 })
	for _, b := range r.heard(since) {
		if b.GetSign() != boothv1.Sign_SIGN_HOLD {
			r.t.Errorf("%s: beat %d says %s by itself", fault, b.GetBeat(), b.GetSign())
		}
	}
	if v := r.verdict(); v != bus.Hold {
		r.t.Errorf("%s: the bus says %s by itself", fault, v)
	}
	r.leave()
}
