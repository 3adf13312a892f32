package console_test

import (
	"bytes"
	"encoding/json"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"go.uber.org/goleak"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/anypb"
	"google.golang.org/protobuf/types/known/durationpb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/app"
	"seamwright/services/calc/spec"
	"seamwright/services/clock"
	"seamwright/services/console"
	"seamwright/services/fault"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// midday is after the last reading of the demonstration shop's day.
var midday = time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC)

// shop is a shop in memory that listens, with a clock that stands.
func shop(t *testing.T) (*app.App, console.At, *clock.Driven) {
	t.Helper()
	c := clock.NewDriven(midday)
	a, err := app.New(app.Options{GRPC: "127.0.0.1:0", Clock: c, Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	if err != nil {
		t.Fatal(err)
	}
	if err := a.Start(t.Context()); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := a.Stop(); err != nil {
			t.Error(err)
		}
	})
	return a, console.At{Address: a.Addr().GRPC}, c
}

// tell records a fact of a repair.
func tell(t *testing.T, a *app.App, req *jobsv1.RecordRequest) *floorv1.Receipt {
	t.Helper()
	c, err := a.Dial()
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	r, err := jobsv1.NewJobsServiceClient(c).Record(t.Context(), req)
	if err != nil {
		t.Fatal(err)
	}
	return r.Receipt
}

func stamp(id string, age time.Duration) *floorv1.Stamp {
	s := &floorv1.Stamp{
		CommandId: id, Actor: "Tamsin Orrable", Role: floorv1.Role_ROLE_TECHNICIAN, Terminal: "bay-1-tablet",
		Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
	}
	if age > 0 {
		s.Age = &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_CLAIMED, Length: durationpb.New(age)}
	}
	return s
}

// demo is the import of everything that the demonstration shop has.
func demo(at console.At) console.Import {
	dir := filepath.Join("..", "..", "testdata", "shop")
	in := func(name string) string { return filepath.Join(dir, name) }
	return console.Import{
		At: at, Surveys: []string{in("survey.csv")}, Products: in("products"), Zones: in("zones"), Booths: in("booths"),
		Loads: in("loads.csv"), Readings: in("readings"), People: in("people.yaml"),
	}
}

type counts struct {
	Recorded, Unchanged int
	Readings            struct{ Stored, Thinned, Known int }
	Sequence            uint64
}

func run(t *testing.T, q console.Import) counts {
	t.Helper()
	var b bytes.Buffer
	if err := q.Run(t.Context(), console.Out{W: &b, JSON: true}); err != nil {
		t.Fatal(err)
	}
	var c counts
	if err := json.Unmarshal(b.Bytes(), &c); err != nil {
		t.Fatal(err)
	}
	return c
}

// hash is the floor's, with the number of the event that it stands at.
func hash(a *app.App) (h string) {
	a.Desk().Writer.View(func(uint64) { h = a.Desk().Floor.Hash() })
	return h
}

func TestTheDemonstrationShopIsImportedOnce(t *testing.T) {
	a, at, _ := shop(t)
	first := run(t, demo(at))
	// 6 zones, 2 booths, 10 products, 5 jobs, 53 seams, 8 loads.
	if first.Recorded != 84 || first.Unchanged != 0 {
		t.Errorf("first %+v", first)
	}
	// Six files of 720 readings: each is stored, thinned or known, none lost.
	if r := first.Readings; r.Stored+r.Thinned != 6*720 || r.Known != 0 || r.Stored < 6*300 {
		t.Errorf("readings %+v", r)
	}
	if want := uint64(84 + first.Readings.Stored); first.Sequence != want {
		t.Errorf("the journal stands at %d, want %d", first.Sequence, want)
	}
	before := hash(a)
	second := run(t, demo(at))
	if second.Recorded != 0 || second.Unchanged != 84 || second.Readings.Stored != 0 || hash(a) != before {
		t.Errorf("second %+v, floor changed: %v", second, hash(a) != before)
	}
}

func TestSeamsArePlannedByTheRules(t *testing.T) {
	a, at, _ := shop(t)
	q := demo(at)
	q.Readings, q.Plan = "", true
	var b bytes.Buffer
	if err := q.Run(t.Context(), console.Out{W: &b, JSON: true}); err != nil {
		t.Fatal(err)
	}
	var got struct {
		Recorded  int
		Undecided []struct {
			Seam string
			What []string
		}
	}
	if err := json.Unmarshal(b.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	// Every one of the 53 seams is planned or named; the six hidden ones and
	// the ochre fuel filler pocket are for a person.
	if got.Recorded != 84+53-len(got.Undecided) || len(got.Undecided) < 7 || len(got.Undecided) > 20 {
		t.Errorf("%d facts recorded, %d seams undecided", got.Recorded, len(got.Undecided))
	}
	for _, u := range got.Undecided {
		if len(u.What) == 0 {
			t.Errorf("%s: nothing says what is to be decided", u.Seam)
		}
	}
	a.Desk().Writer.View(func(uint64) {
		p := a.Desk().Floor.Seam("2207/rd-l").Plan
		if p == nil || p.Profile != spec.Levelled || p.Volume <= 0 || len(p.Reasons) == 0 {
			t.Errorf("plan of 2207/rd-l: %+v", p)
		}
	})
	if again := run(t, q); again.Recorded != 0 {
		t.Errorf("planned twice: %+v", again)
	}
}

const header = "ro,vehicle,seam,panel,place,finish,length_mm\n"

// survey writes a survey of one seam of a length.
func survey(t *testing.T, at console.At, length string) console.Import {
	t.Helper()
	path := filepath.Join(t.TempDir(), "survey.csv")
	if err := os.WriteFile(path, []byte(header+"2207,blue hatchback,rd-l,roof,roof ditch,coated,"+length+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	return console.Import{At: at, Surveys: []string{path}}
}

func length(a *app.App) (mm float64) {
	a.Desk().Writer.View(func(uint64) {
		if s := a.Desk().Floor.Seam("2207/rd-l"); s != nil {
			mm = s.LengthMM
		}
	})
	return mm
}

// The import compares with what the shop has now, not with what it was told
// at some time: going back is a change, what a person corrected is known, and
// what was withdrawn is told again.
func TestAnImportBringsTheShopToWhatTheFileSays(t *testing.T) {
	a, at, _ := shop(t)
	for i, step := range []struct {
		length string
		want   int
	}{{"1400", 2}, {"1400", 0}, {"1450", 1}, {"1400", 1}, {"1400", 0}, {"1450", 1}} {
		if got := run(t, survey(t, at, step.length)); got.Recorded != step.want {
			t.Errorf("step %d: %d facts recorded, want %d", i, got.Recorded, step.want)
		}
	}
	if got := length(a); got != 1450 {
		t.Fatalf("length %g, want 1450", got)
	}
	last := a.Desk().Writer.Seq()
	body, err := anypb.New(&jobsv1.SeamSurveyed{
		SeamId: "2207/rd-l", Panel: "roof", Place: "roof ditch", LengthMm: 1500, Finish: floorv1.Finish_FINISH_COATED,
		Reference: &floorv1.Reference{Source: floorv1.ReferenceSource_REFERENCE_SOURCE_NONE}, Hidden: true,
	})
	if err != nil {
		t.Fatal(err)
	}
	tell(t, a, &jobsv1.RecordRequest{Stamp: stamp("correct-1", 0), Fact: &jobsv1.RecordRequest_FactCorrected{
		FactCorrected: &jobsv1.FactCorrected{Sequence: last, Why: "measured again", Body: body},
	}})
	if got := run(t, survey(t, at, "1500")); got.Recorded != 0 {
		t.Errorf("a corrected fact was told again: %+v", got)
	}
	tell(t, a, &jobsv1.RecordRequest{Stamp: stamp("withdraw-1", 0), Fact: &jobsv1.RecordRequest_FactWithdrawn{
		FactWithdrawn: &jobsv1.FactWithdrawn{Sequence: last, Why: "another car"},
	}})
	if got := run(t, survey(t, at, "1450")); got.Recorded != 1 || length(a) != 1450 {
		t.Errorf("after the withdrawal: %+v, length %g", got, length(a))
	}
}

func TestNothingIsToldWhenAFileIsBad(t *testing.T) {
	a, at, _ := shop(t)
	q := survey(t, at, "-1")
	good := survey(t, at, "1400")
	q.Surveys = append(good.Surveys, q.Surveys...)
	err := q.Run(t.Context(), console.Out{W: io.Discard})
	if fault.KindOf(err) != fault.Invalid || a.Desk().Writer.Seq() != 0 {
		t.Errorf("%v, the journal stands at %d", err, a.Desk().Writer.Seq())
	}
	if line, status := console.Explain(err); status != console.ExitRefused || strings.Contains(line, "\n") || !strings.Contains(line, "survey.csv:2 length_mm: -1: ") {
		t.Errorf("%q, status %d", line, status)
	}
}

func TestAWatcherReadsWhatHappened(t *testing.T) {
	a, at, c := shop(t)
	run(t, survey(t, at, "1400"))
	if err := c.Advance(time.Hour); err != nil {
		t.Fatal(err)
	}
	tell(t, a, &jobsv1.RecordRequest{Stamp: stamp("laid-0001", 20*time.Minute), Fact: &jobsv1.RecordRequest_BeadLaid{BeadLaid: &jobsv1.BeadLaid{
		SeamId: "2207/rd-l", Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: proto.Float64(47), Lasted: durationpb.New(2 * time.Minute),
		SurfaceTempC: proto.Float64(19.5),
	}}})
	var b bytes.Buffer
	if err := (console.Watch{At: at, From: "3", Stop: true}).Run(t.Context(), console.Out{W: &b}); err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(b.String()), "\n")
	want := "2026-03-03T12:40:00.000Z  #3  seam 2207/rd-l: bead laid, layer bead, volume 47 ml, lasted 2m0s, surface temp 19.5 °C" +
		"  (Tamsin Orrable at bay-1-tablet, claimed 20m0s later)"
	if diff := cmp.Diff(want, lines[0]); diff != "" {
		t.Errorf("line (-want +got):\n%s", diff)
	}
	if len(lines) < 2 { // the cartridge is unknown, the seam was not prepped
		t.Fatal("no finding is shown")
	}
	for _, l := range lines[1:] {
		sev, reason, ok := strings.Cut(strings.TrimSpace(l), ": ")
		if !ok || !strings.HasPrefix(l, "    ") || (sev != "note" && sev != "query" && sev != "stop") || reason == "" {
			t.Errorf("finding line %q", l)
		}
	}
	b.Reset()
	if err := (console.Watch{At: at, From: "1", Stop: true}).Run(t.Context(), console.Out{W: &b, JSON: true}); err != nil {
		t.Fatal(err)
	}
	for i, l := range strings.Split(strings.TrimSpace(b.String()), "\n") {
		var e struct {
			Sequence string
			Body     map[string]any
		}
		if err := json.Unmarshal([]byte(l), &e); err != nil || e.Sequence != string(rune('1'+i)) || e.Body["@type"] == "" {
			t.Errorf("line %d: %v, %s", i, err, l)
		}
	}
}
