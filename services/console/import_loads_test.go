package console_test

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"seamwright/services/console"
	"seamwright/services/fault"
)

// Loads without their survey are found before anything is stored.
func TestLoadsWaitForTheirSurvey(t *testing.T) {
	a, at, _ := shop(t)
	all := demo(at)
	first := all
	first.Surveys, first.Readings = nil, ""
	err := first.Run(t.Context(), console.Out{W: io.Discard})
	if fault.KindOf(err) != fault.NotFound || a.Desk().Writer.Seq() != 0 {
		t.Fatalf("%v, the journal stands at %d", err, a.Desk().Writer.Seq())
	}
	if line, status := console.Explain(err); status != console.ExitRefused || !strings.HasPrefix(line, `load 2198-A: job "2198" is not known; `) ||
		!strings.Contains(line, "import its survey first") {
		t.Errorf("%q, status %d", line, status)
	}
	survey := console.Import{At: at, Surveys: all.Surveys}
	if got := run(t, survey); got.Recorded != 5+53 {
		t.Errorf("survey first: %+v", got)
	}
	if got := run(t, first); got.Recorded != 84-5-53 {
		t.Errorf("then the rest: %+v", got)
	}
}

// A load of a seam or a booth that is nowhere is found too.
func TestLoadsWaitForTheirSeamsAndBooths(t *testing.T) {
	a, at, _ := shop(t)
	path := filepath.Join(t.TempDir(), "loads.csv")
	for _, c := range []struct{ row, want string }{
		{"2207-A,booth-1,2207,blue,th", `load 2207-A: seam "2207/th" is not known; `},
		{"2207-A,booth-9,2207,blue,rd-l", `load 2207-A: booth "booth-9" is not known; `},
	} {
		if err := os.WriteFile(path, []byte("load,booth,ro,colour,seams\n"+c.row+"\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		q := survey(t, at, "1400")
		q.Loads, q.Booths = path, demo(at).Booths
		q.Zones = demo(at).Zones
		err := q.Run(t.Context(), console.Out{W: io.Discard})
		if err == nil || !strings.HasPrefix(err.Error(), c.want) || a.Desk().Writer.Seq() != 0 {
			t.Errorf("%s: %v, the journal stands at %d", c.row, err, a.Desk().Writer.Seq())
		}
	}
}

// A terminal stands in the zone that it was last told for, and an import of
// the zone files leaves it there.
func TestATerminalIsEnrolledMovedAndKept(t *testing.T) {
	a, at, _ := shop(t)
	zones := console.Import{At: at, Zones: demo(at).Zones, Booths: demo(at).Booths}
	run(t, zones)
	enrol := func(id, zone string) (string, error) {
		var b bytes.Buffer
		err := console.Terminal{At: at, ID: id, Zone: zone}.Run(t.Context(), console.Out{W: &b})
		return b.String(), err
	}
	stands := func() (zone string) {
		a.Desk().Writer.View(func(uint64) { zone = string(a.Desk().Floor.TerminalZone("tab-7")) })
		return zone
	}
	for _, c := range []struct{ zone, line string }{
		{"bay-1", "tab-7 stands in bay-1\n"},
		{"bay-1", "tab-7 stands in bay-1 already; nothing was told\n"},
		{"bay-2", "tab-7 stands in bay-2, no longer in bay-1\n"},
		{"bay-1", "tab-7 stands in bay-1, no longer in bay-2\n"},
	} {
		line, err := enrol("tab-7", c.zone)
		if err != nil || !strings.HasPrefix(line, c.line) || stands() != c.zone {
			t.Errorf("%s: %q, %v, stands in %q", c.zone, line, err, stands())
		}
	}
	if got := run(t, zones); got.Recorded != 0 || stands() != "bay-1" {
		t.Errorf("import of the zones again: %+v, stands in %q", got, stands())
	}
	before := a.Desk().Writer.Seq()
	for _, c := range []struct {
		id, zone, want string
		kind           fault.Kind
	}{
		{"tab-7", "bay-9", `zone "bay-9" is not known; the shop has bay-1, bay-2`, fault.NotFound},
		{"", "bay-1", "--id: missing: ", fault.Invalid},
		{"tab-7", "", "--zone: missing: ", fault.Invalid},
		{"tab 7", "bay-1", "--id: tab 7: ", fault.Invalid},
	} {
		_, err := enrol(c.id, c.zone)
		if err == nil || fault.KindOf(err) != c.kind || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%q in %q: %v, want %q", c.id, c.zone, err, c.want)
		}
	}
	if a.Desk().Writer.Seq() != before {
		t.Error("a refused terminal was told")
	}
}
