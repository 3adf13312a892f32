package bus_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"seamwright/services/bus"
	"seamwright/services/fault"
)

var monday = time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC)

// cleared is a beat that says CLEAR.
func cleared() bus.Beat {
	return bus.Beat{
		Booth: "B1", Holder: "gate-A", Number: 7, Sign: bus.Clear, Load: "2207-A", Permit: "p-1",
		StartBy: monday.Add(10 * time.Minute), Reasons: []bus.Reason{}, Sequence: 128, Now: monday,
	}
}

func TestBeatComesBack(t *testing.T) {
	hold := cleared()
	hold.Sign, hold.Permit, hold.StartBy = bus.Hold, "", time.Time{}
	hold.Reasons = []bus.Reason{{Name: "flow-out", Subject: "seam/2207/rd-l", Text: "roof ditch L, \"flow-out\" 71 %", Until: monday.Add(time.Minute)}}
	over := cleared()
	over.Sign, over.Reasons = bus.Override, hold.Reasons
	for _, b := range []bus.Beat{cleared(), hold, over} {
		text, err := b.Encode()
		if err != nil {
			t.Fatal(err)
		}
		back, err := bus.DecodeBeat(text)
		if err != nil {
			t.Fatalf("%s: %v", text, err)
		}
		if d := cmp.Diff(b, back); d != "" {
			t.Errorf("(-sent +read)\n%s", d)
		}
	}
}

func TestBeatsThatAreNone(t *testing.T) {
	b, err := cleared().Encode()
	if err != nil {
		t.Fatal(err)
	}
	good := string(b)
	swap := func(old, with string) string {
		if !strings.Contains(good, old) {
			t.Fatalf("%s has no %s", good, old)
		}
		return strings.Replace(good, old, with, 1)
	}
	for name, text := range map[string]string{
		"nothing":               "",
		"null":                  "null",
		"a list":                "[" + good + "]",
		"cut":                   good[:len(good)-1],
		"more behind":           good + good,
		"not UTF-8":             swap("2207-A", "\xff"),
		"unknown key":           swap(`"load"`, `"laod"`),
		"key in another case":   swap(`"sign"`, `"Sign"`),
		"key twice":             swap(`"sign":"CLEAR"`, `"sign":"HOLD","sign":"CLEAR"`),
		"sign of its own":       swap(`"CLEAR"`, `"clear"`),
		"no sign":               swap(`"sign":"CLEAR",`, ``),
		"no number":             swap(`"beat":7,`, ``),
		"number below zero":     swap(`"beat":7`, `"beat":-7`),
		"number with a part":    swap(`"beat":7`, `"beat":7.5`),
		"no booth":              swap(`"booth":"B1",`, ``),
		"booth with a wildcard": swap(`"B1"`, `"*"`),
		"no holder":             swap(`"gate-A"`, `""`),
		"no now":                swap(`,"now":"2026-03-02T10:00:00Z"`, ``),
		"now without offset":    swap(`"2026-03-02T10:00:00Z"`, `"2026-03-02T10:00:00"`),
		"clear without load":    swap(`"load":"2207-A",`, ``),
		"clear without permit":  swap(`"permit":"p-1",`, ``),
		"clear without a time":  swap(`"start_by":"2026-03-02T10:10:00Z",`, ``),
		"clear with a reason":   swap(`"reasons":[]`, `"reasons":[{"name":"x","subject":"","text":"y"}]`),
		"strange reason":        swap(`"CLEAR"`, `"HOLD"`) + "", // replaced below
		"too deep":              swap(`"reasons":[]`, `"reasons":[[[[[]]]]]`),
		"too long":              swap("p-1", strings.Repeat("p", bus.MaxBeat)),
	} {
		if name == "strange reason" {
			text = strings.Replace(text, `"reasons":[]`, `"reasons":[{"name":"x","colour":"y"}]`, 1)
		}
		if got, err := bus.DecodeBeat([]byte(text)); fault.KindOf(err) != fault.Invalid || err == nil {
			t.Errorf("%s: taken as %+v (%v)", name, got, err)
		}
	}
	if _, err := bus.DecodeBeat([]byte(good)); err != nil {
		t.Errorf("the good one: %v", err)
	}
}

// A gate with more reasons than a message holds still holds, and says that
// there are more.
func TestBeatWithVeryManyReasons(t *testing.T) {
	b := cleared()
	b.Sign = bus.Hold
	for i := range 350 {
		b.Reasons = append(b.Reasons, bus.Reason{Name: "flow-out", Subject: fmt.Sprint("seam/2207/", i), Text: "not yet"})
	}
	text, err := b.Encode()
	if err != nil {
		t.Fatal(err)
	}
	back, err := bus.DecodeBeat(text)
	if err != nil || len(back.Reasons) != 200 || back.Reasons[199].Text != "and 151 more reasons" {
		t.Errorf("%d reasons, %v, last %+v", len(back.Reasons), err, back.Reasons[len(back.Reasons)-1])
	}
	b.Reasons[0].Text = strings.Repeat("x", 40_000)
	b.Reasons[60].Text = strings.Repeat("y", 40_000)
	if text, err = b.Encode(); err != nil || len(text) > bus.MaxBeat {
		t.Errorf("long texts: %d bytes, %v", len(text), err)
	}
	if back, err = bus.DecodeBeat(text); err != nil || len(back.Reasons) < 40 || back.Reasons[len(back.Reasons)-1].Name != "more" {
		t.Errorf("long texts: %v, %d reasons", err, len(back.Reasons))
	}
	if len(b.Reasons) != 350 {
		t.Error("the sender's own list was changed")
	}
}
