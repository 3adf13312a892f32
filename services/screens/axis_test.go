package screens

import (
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func galleryAxis() axis { return axis{clockAt(10, 0), clockAt(15, 0), clockAt(10, 43)} }

// TestSegmentsAreCut places a strip by hand: five hours are 100 percent, so a
// minute is a third of one.
func TestSegmentsAreCut(t *testing.T) {
	got := galleryAxis().segments([]Segment{
		{SegNotReady, clockAt(9, 0), clockAt(10, 30)},
		{SegOpening, clockAt(10, 30), clockAt(10, 45)},
		{SegOpen, clockAt(10, 45), time.Time{}},
		{SegClosing, clockAt(15, 0), clockAt(16, 0)},
		{SegClosed, clockAt(12, 0), clockAt(11, 0)},
	})
	want := []drawn{
		{Kind: "not-ready", X: "0.00%", W: "10.00%"},
		{Kind: "opening", X: "10.00%", W: "5.00%"},
		{Kind: "open", X: "15.00%", W: "85.00%"},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func part100(t *rapid.T, s string) float64 {
	v, err := strconv.ParseFloat(strings.TrimSuffix(s, "%"), 64)
	if err != nil {
		t.Fatalf("%q is no SVG length: %v", s, err)
	}
	return v
}

// TestTextStaysOnAxis draws any strip with any text at any moment: words and
// segments never leave the axis, and words that have room stand clear of the
// now line.
func TestTextStaysOnAxis(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		minute := rapid.IntRange(-300, 900)
		a := axis{clockAt(10, 0), clockAt(15, 0), clockAt(10, minute.Draw(t, "now"))}
		at := clockAt(10, minute.Draw(t, "laid"))
		var strip []Segment
		for _, k := range []SegmentKind{SegNotReady, SegOpening, SegOpen, SegClosing, SegClosed} {
			to := at.Add(time.Duration(rapid.IntRange(0, 200).Draw(t, string(k))) * time.Minute)
			strip = append(strip, Segment{k, at, to})
			at = to
		}
		text := strings.Repeat("x", rapid.IntRange(0, 150).Draw(t, "letters"))
		for _, p := range []placed{a.stripText(strip, text), a.openText(width(text), "bare"), a.layBy(at, text).Text} {
			x, w := part100(t, p.X), part100(t, p.W)
			if x < 0 || x+w > 100.02 {
				t.Errorf("%+v leaves the axis", p)
			}
			now := a.at(a.now)
			if need := width(text); p.End && w >= need && x+w-need < now && x+w > now {
				t.Errorf("%+v runs over the now line at %.2f", p, now)
			} else if !p.End && x < now && x+min(w, need) > now && now < 100 && (100-now > need+4 || now > need+2) {
				t.Errorf("%+v runs over the now line at %.2f", p, now)
			}
		}
		sum := 0.0
		for _, d := range a.segments(strip) {
			sum += part100(t, d.W)
			if part100(t, d.X)+part100(t, d.W) > 100.02 {
				t.Errorf("%+v leaves the axis", d)
			}
		}
		if sum > 100.1 {
			t.Errorf("segments that follow each other take %.2f %%", sum)
		}
	})
}

// TestRowIsStable checks that a row whose facts did not change stays the same
// bytes while the now line moves through most of a raster step: else each
// second would send each row.
func TestRowIsStable(t *testing.T) {
	row := galleryBoard().Jobs[0].Seams[0]
	row.Text = "flow-out · opens 11:07"
	changes, last := 0, ""
	for s := range 600 {
		b := galleryBoard()
		b.Now = clockAt(11, 30).Add(time.Duration(s) * time.Second)
		d := newDrawer(ref{Kind: "board"}, b.Picture)
		html := d.draw("board-row", "row-x", d.row(axis{b.From, b.To, b.Now}, row)).html
		if d.err != nil {
			t.Fatal(d.err)
		}
		if html != last {
			changes, last = changes+1, html
		}
	}
	if changes > 4 {
		t.Errorf("the row was another one %d times in ten minutes, want at most 4", changes)
	}
}

func TestTicks(t *testing.T) {
	for span, want := range map[time.Duration]string{
		time.Hour:      "10:00 10:15 10:30 10:45 11:00",
		5 * time.Hour:  "10:00 11:00 12:00 13:00 14:00 15:00",
		12 * time.Hour: "10:00 12:00 14:00 16:00 18:00 20:00 22:00",
	} {
		var got []string
		for _, k := range (axis{clockAt(10, 0), clockAt(10, 0).Add(span), clockAt(10, 5)}).ticks() {
			if k.Label != "" {
				got = append(got, k.Label)
			}
		}
		if s := strings.Join(got, " "); s != want {
			t.Errorf("%v: %s, want %s", span, s, want)
		}
	}
	if got := (axis{}).ticks(); got != nil {
		t.Errorf("an axis without length has ticks %v", got)
	}
}
