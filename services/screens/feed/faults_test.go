package feed_test

import (
	"errors"
	"io"
	"net"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"

	"seamwright/services/app"
	"seamwright/services/console"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/screens"
	"seamwright/services/screens/feed"
)

// texts are what some reasons say.
func texts(rs []screens.Reason) (out []string) {
	for _, r := range rs {
		out = append(out, r.Text)
	}
	return out
}

// TestDiskFullStandsOnEveryScreen runs a real shop on the machine's clock, and
// opens it again with a disk that has less room than it asks for: every screen
// says it, the booth before all that its load waits for.
func TestDiskFullStandsOnEveryScreen(t *testing.T) {
	s := &shop{t: t}
	dir := t.TempDir()
	start := func(free uint64) {
		var err error
		s.app, err = app.New(app.Options{Dir: dir, MinFree: free, GRPC: "127.0.0.1:0", Log: discard(), Shop: "harrow-street"})
		must(t, err)
		must(t, s.app.Start(t.Context()))
	}
	start(0)
	in := func(name string) string { return filepath.Join(folder, name) }
	must(t, console.Import{
		At: console.At{Address: s.app.Addr().GRPC}, Surveys: []string{in("survey.csv")}, Products: in("products"), Zones: in("zones"),
		Booths: in("booths"), Loads: in("loads.csv"), People: in("people.yaml"), Plan: true,
	}.Run(t.Context(), console.Out{W: io.Discard}))
	must(t, s.app.Stop())
	start(1 << 62)
	t.Cleanup(func() { must(t, s.app.Stop()) })
	var err error
	s.src, err = app.Feed(s.app)
	must(t, err)

	const full = "The shop's disk is full."
	looks := time.NewTicker(20 * time.Millisecond)
	defer looks.Stop()
	for over := time.After(30 * time.Second); !slices.Contains(texts(s.bay(bay1, "2198", "rd-l").Faults), full); {
		select {
		case <-looks.C:
		case <-over:
			t.Fatalf("the tablet never told the full disk: %v", s.bay(bay1, "2198", "rd-l").Faults)
		}
	}
	tablet := s.bay(bay1, "2198", "rd-l")
	if f := tablet.Faults[0]; f.Text != full || !f.Lost || !strings.Contains(f.Do, "Make room") || !tablet.Live {
		t.Errorf("the tablet: live %v, %+v", tablet.Live, f)
	}
	wall := s.board()
	if len(wall.Faults) == 0 || !strings.HasPrefix(wall.Gates[0].Sentence, full) {
		t.Errorf("the wall: %v, %q", wall.Faults, wall.Gates[0].Sentence)
	}
	b := s.booth("booth-1")
	if got := texts(b.Reasons); len(got) < 2 || got[0] != full {
		t.Errorf("the booth's reasons: %q", got)
	}
	if !strings.HasPrefix(b.Gate.Sentence, full+" Make room") || !strings.Contains(b.Gate.Sentence, "not laid") || strings.Contains(b.Gate.Sentence, "ground") {
		t.Errorf("the booth's head: %q", b.Gate.Sentence)
	}
}

// TestFaultWithoutALoad: a gate that no load waits at gives no reasons; what
// is wrong with the process is told all the same.
func TestFaultWithoutALoad(t *testing.T) {
	s := open(t, app.Options{}, false)
	src := feed.New(feed.Options{Shop: "harrow-street", Desk: s.app.Desk(), Conn: s.conn, Health: func() error {
		return errors.Join(
			fault.New(fault.Unavailable, floor.HoldKeeper, "the keeper did not act", "start the program again"),
			fault.New(fault.Unavailable, floor.HoldUnwritable, "a write failed", "look at the disk"),
		)
	}})
	b, err := src.Bay(t.Context(), bay1, "", "")
	must(t, err)
	if got := texts(b.Faults); !slices.Equal(got, []string{"What is told cannot be stored.", "Nobody works out how far the beads have cured."}) || !b.Faults[0].Lost || b.Faults[1].Lost {
		t.Errorf("the tablet tells %+v", b.Faults)
	}
}

// TestServicesGone points the screens at services that do not answer: the
// picture is not live, says what to do, and a load that waits is not denied.
func TestServicesGone(t *testing.T) {
	s := open(t, app.Options{}, true)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	must(t, err)
	must(t, l.Close())
	conn, err := grpc.NewClient(l.Addr().String(), grpc.WithTransportCredentials(insecure.NewCredentials()))
	must(t, err)
	defer conn.Close()
	src := feed.New(feed.Options{Shop: "harrow-street", Desk: s.app.Desk(), Conn: conn})
	wall, err := src.Board(t.Context())
	must(t, err)
	booth, err := src.Booth(t.Context(), "booth-1")
	must(t, err)
	tablet, err := src.Bay(t.Context(), bay1, "", "")
	must(t, err)
	for name, p := range map[string]screens.Picture{"wall": wall.Picture, "booth": booth.Picture, "tablet": tablet.Picture} {
		if p.Live || !strings.Contains(p.Trouble, "see whether the shop's program runs") {
			t.Errorf("%s: live %v, %q", name, p.Live, p.Trouble)
		}
	}
	waits := s.booth("booth-1").Gate.Load
	for name, g := range map[string]screens.Gate{"wall": wall.Gates[0], "booth": booth.Gate} {
		if g.State != screens.GateUnknown || waits == "" || g.Load != waits || !strings.Contains(g.Sentence, "see whether the shop's program runs") {
			t.Errorf("%s: %+v, want load %s", name, g, waits)
		}
	}
}

// TestNoTerminalIsNoTablet: where no terminal is known of a car's bay, the
// booth does not tell anybody to wake one.
func TestNoTerminalIsNoTablet(t *testing.T) {
	s := open(t, app.Options{}, true)
	b := s.booth("booth-1")
	ro := b.Load.RO
	i := slices.IndexFunc(b.Reasons, func(r screens.Reason) bool { return strings.Contains(r.Text, "terminal") })
	if i < 0 || b.Reasons[i].Text != "No terminal is known of the bay that "+ro+" was worked in." || strings.Contains(b.Reasons[i].Do, "Wake") {
		t.Errorf("of %s: %+v", ro, b.Reasons)
	}
}

// TestNumberKeepsItsUnit: what is to be laid is never cut between a width and
// its unit, on whichever screen it is too long.
func TestNumberKeepsItsUnit(t *testing.T) {
	s := open(t, app.Options{}, true)
	widths := 0
	for _, x := range s.booth("booth-1").Seams {
		if strings.Contains(x.Text, " mm") {
			t.Errorf("%s: %q may be cut before its unit", x.ID, x.Text)
		}
		if strings.Contains(x.Text, "\u00a0mm") {
			widths++
		}
	}
	if widths == 0 {
		t.Error("no seam tells its width")
	}
}
