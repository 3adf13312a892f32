package console

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/fault"
)

// A name with a line end in it does not make another line of the journal, and
// what would rule a terminal does not reach it.
func TestNamesDoNotBreakLines(t *testing.T) {
	at := timestamppb.New(time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC))
	bad := "Tamsin\n2026-03-02T08:00:00.000Z  #9\x1b[2J\u2028\u202e"
	e := &floorv1.Entry{Sequence: 8, Aggregate: "job.22\n07", Occurred: at, Received: at, Actor: bad, Terminal: "desk\r"}
	body := &jobsv1.JobOpened{Ro: "2207", Vehicle: "blue\nhatchback", Assessment: &floorv1.Assessment{
		Findings: []*floorv1.Finding{{Severity: floorv1.Severity_SEVERITY_NOTE, Reason: "said by " + bad}},
	}}
	lines := entryLines(e, body)
	if len(lines) != 2 {
		t.Fatalf("%d lines: %q", len(lines), lines)
	}
	for _, l := range lines {
		if strings.ContainsAny(l, "\n\r\x1b\u2028\u202e") || oneLine(l) != l {
			t.Errorf("%q holds what cannot be seen", l)
		}
	}
	if !strings.Contains(lines[0], `("Tamsin\n2026-03-02`) || !strings.Contains(lines[0], ` at "desk\r")`) {
		t.Errorf("%s: the names are not quoted", lines[0])
	}
	if got := oneLine(`seam "2207/rd-l" at 9 °C`); got != `seam "2207/rd-l" at 9 °C` {
		t.Errorf("a plain text became %q", got)
	}
}

// However early a living demonstration is stopped, that is no error; a
// headless one that was stopped has no answer.
func TestStoppingALivingDemoIsNoError(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	broken := errors.New("disk full")
	if err := (Demo{}).unlessStopped(ctx, context.Canceled); err == nil {
		t.Error("an error was dropped though nobody stopped the run")
	}
	stop()
	for _, err := range []error{context.Canceled, fault.New(fault.Cancelled, "stopped", "stopped", "")} {
		if got := (Demo{}).unlessStopped(ctx, err); got != nil {
			t.Errorf("living: %v", got)
		}
		if got := (Demo{Headless: true}).unlessStopped(ctx, err); got == nil {
			t.Error("headless: no error")
		}
	}
	if got := (Demo{}).unlessStopped(ctx, broken); !errors.Is(got, broken) {
		t.Errorf("another error became %v", got)
	}
}

// Per cent are read with their sign or without; of a part of 1 the sign says
// that it is typed in per cent.
func TestNumbersOfPerCent(t *testing.T) {
	for _, c := range []struct {
		read             func(flag, text, want string) (float64, error)
		flag, text, want string
		x                float64 // -1: refused
	}{
		{number, "--waste-percent", "5", "from 0 to 100", 5},
		{number, "--waste-percent", "5%", "from 0 to 100", 5},
		{number, "--waste-percent", "5 %", "from 0 to 100", 5},
		{number, "--keep", "1%", "from 0 to 100 %", 1},
		{number, "--purge-ml", "5%", "from 0 to 1000", -1},
		{number, "--waste-percent", "%", "from 0 to 100", -1},
		{number, "--waste-percent", "5%%", "from 0 to 100", -1},
		{share, "--service", "0.95", "from 0.5", 0.95},
		{share, "--service", "95%", "from 0.5", 0.95},
		{share, "--service", "99.99 %", "from 0.5", 0.9999},
		{share, "--service", "9.5e1%", "from 0.5", 0.95},
		{share, "--service", "95", "from 0.5", 95},
		{share, "--service", "%", "from 0.5", -1},
		{share, "--service", "NaN%", "from 0.5", -1},
	} {
		x, err := c.read(c.flag, c.text, c.want)
		if c.x < 0 && (err == nil || !strings.HasPrefix(err.Error(), c.flag+": "+c.text+": "+c.want)) || c.x >= 0 && (err != nil || x != c.x) {
			t.Errorf("%s %s: %v, %v", c.flag, c.text, x, err)
		}
	}
	if _, err := share("--service", "0,95", "from 0.5"); err == nil || !strings.Contains(err.Error(), "0,95: write 0.95, with a point; from 0.5") {
		t.Error(err)
	}
}
