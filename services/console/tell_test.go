package console_test

import (
	"bytes"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/reflect/protoreflect"

	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/app"
	"seamwright/services/console"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// telling tells a fact as its words are typed: KIND FIELD=VALUE...
func telling(t *testing.T, q console.Tell, kind string, fields ...string) (string, error) {
	t.Helper()
	q.Kind, q.Fields = kind, fields
	if q.Name == "" {
		q.Name, q.Role = "Dov Pennywhin", "materials"
	}
	var out bytes.Buffer
	err := q.Run(t.Context(), console.Out{W: &out})
	return out.String(), err
}

// floorOf reads the shop's floor once it has taken in all that is told.
func floorOf(t *testing.T, a *app.App, fn func(*floor.Floor)) {
	t.Helper()
	a.Desk().Writer.View(func(uint64) { fn(a.Desk().Floor) })
}

// The README's recall, and its being taken back by the command that it prints.
func TestTheRecallOfTheReadme(t *testing.T) {
	a, at, _ := shop(t)
	run(t, console.Import{At: at, Products: demo(at).Products, Lots: "../../testdata/shop/lots.csv"})
	q := console.Tell{At: at}
	out, err := telling(t, q, "lot-recalled", "lot_id=MG-2507", "why=lumps in it")
	if err != nil {
		t.Fatal(err)
	}
	want := inReadme(t, "tell lot-recalled lot_id=MG-2507 why='lumps in it' --name 'Dov Pennywhin' --role materials --dir ./shop")
	got := strings.ReplaceAll(out, "--address "+at.Address, "--dir ./shop")
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("recall (-want +got):\n%s", diff)
	}
	recalled := func() (yes bool) {
		floorOf(t, a, func(f *floor.Floor) { yes = f.Lot("MG-2507").Recalled })
		return yes
	}
	if !recalled() {
		t.Fatal("the lot is not recalled")
	}
	_, back, _ := strings.Cut(out, "sequence=")
	seq, _, _ := strings.Cut(back, " ")
	if _, err := telling(t, q, "fact-withdrawn", "sequence="+seq, "why=another lot"); err != nil || recalled() {
		t.Errorf("taken back: %v, recalled %v", err, recalled())
	}
}

// Twice told is two facts: each run has a command of its own.
func TestToldTwice(t *testing.T) {
	a, at, _ := shop(t)
	run(t, console.Import{At: at, Products: demo(at).Products, Lots: "../../testdata/shop/lots.csv"})
	before := a.Desk().Writer.Seq()
	for range 2 {
		if _, err := telling(t, console.Tell{At: at}, "stock-counted", "lot_id=MG-2507", "cartridges=3"); err != nil {
			t.Fatal(err)
		}
	}
	if n := a.Desk().Writer.Seq() - before; n != 2 {
		t.Errorf("%d facts, want 2", n)
	}
}

// A stage that was seen half an hour ago, a nozzle's weighed hold-up, and both
// sides brought level stand on the floor as they were told; a finding is said.
func TestWhatNoScreenAsks(t *testing.T) {
	at := sealed(t) // one bead on 2300/hem out of C1, at 12:18; it is 12:24
	q := console.Tell{At: at, Name: "Tamsin Orrable", Role: "technician", Terminal: "bay-1-tablet", Ago: "1 min 30 s"}
	for _, c := range [][]string{
		{"stage-observed", "seam_id=2300/hem", "clock=tooling"},
		{"cartridge-equalised", "cartridge_id=C1", "volume_ml=1.5"},
		{"nozzle-fitted", "nozzle_id=N2", "cartridge_id=C1", "kind=round tip, cut at 8 mm", "hold_up_ml=6.5"},
		{"run-laid", "cartridge_id=C1", "passes.1.seam_id=2300/hem", "passes.1.layer=bed", "passes.1.ended_before=2 min", "passes.2.seam_id=2300/hem", "passes.2.layer=bead", "passes.2.lasted=1 min 30 s"},
	} {
		if _, err := telling(t, q, c[0], c[1:]...); err != nil {
			t.Errorf("%q: %v", c, err)
		}
	}
	var b bytes.Buffer
	if err := (console.Watch{At: at, From: "1", Stop: true}).Run(t.Context(), console.Out{W: &b}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"2026-03-03T12:22:30.000Z  #", ": stage observed, clock tooling  (Tamsin Orrable at bay-1-tablet, claimed 1m30s later)",
		": cartridge equalised, volume 1.5 ml  (", ": nozzle fitted, nozzle N2, kind round tip, cut at 8 mm, hold up 6.5 ml  (", "run laid, cartridge C1, passes 2",
	} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("the journal has no %q:\n%s", want, b.String())
		}
	}
	out, err := telling(t, q, "bead-laid", "seam_id=2300/hem", "layer=bead", "cartridge_id=C1", "volume_ml=5000")
	if err != nil || !strings.Contains(out, "\nquery  cartridge C1: 5000.0 ml out of cartridge C1 are ") {
		t.Errorf("%v, %s", err, out)
	}
}

// A volume that was mistyped is mended: the rest of the fact stays, what the
// server wrote goes, and the query about the cartridge lapses.
func TestAVolumeIsCorrected(t *testing.T) {
	a, at, _ := shop(t)
	q := demo(at)
	q.Readings, q.Plan, q.Lots = "", true, "../../testdata/shop/lots.csv"
	run(t, q)
	w := console.Tell{At: at, Name: "Tamsin Orrable", Role: "technician"}
	say := func(kind string, fields ...string) uint64 {
		t.Helper()
		if _, err := telling(t, w, kind, fields...); err != nil {
			t.Fatal(err)
		}
		return a.Desk().Writer.Seq()
	}
	say("cartridge-opened", "cartridge_id=C1", "lot_id=MG-2512")
	laid := say("bead-laid", "seam_id=2207/dh-lf", "layer=bead", "cartridge_id=C1", "volume_ml=5000", "lasted=4 min 30 s")
	open := func() (n int) {
		floorOf(t, a, func(f *floor.Floor) {
			for _, x := range f.Findings("cartridge/C1") {
				if x.Open() && x.Rule == "volume-overdrawn" {
					n++
				}
			}
		})
		return n
	}
	if open() != 1 {
		t.Fatal("5000 ml out of a cartridge of 220 ml are no query")
	}
	out, err := telling(t, w, "fact-corrected", "sequence="+strconv.FormatUint(laid, 10), "why=mistyped", "retime=no", "body.volume_ml=50")
	if err != nil || !strings.Contains(out, "body (bead laid, seam 2207/dh-lf, cartridge C1, layer bead, volume 50 ml, lasted 4m30s)") {
		t.Errorf("%v, %s", err, out)
	}
	floorOf(t, a, func(f *floor.Floor) {
		// The demonstration shop's cartridge of mb-grey holds 220 ml.
		if left := f.Cartridge("C1").Remaining.ML(); left != 170 || open() != 0 {
			t.Errorf("%g ml are left, want 170; %d queries", left, open())
		}
	})
	// As planned: the field is left open, and the server fills in the plan.
	if _, err := telling(t, w, "fact-corrected", "sequence="+strconv.FormatUint(laid, 10), "why=as planned", "retime=no", "body.volume_ml="); err != nil {
		t.Fatal(err)
	}
	floorOf(t, a, func(f *floor.Floor) {
		want := 220 - f.Seam("2207/dh-lf").Plan.Volume.ML()
		if left := f.Cartridge("C1").Remaining.ML(); left < want-0.001 || left > want+0.001 || want == 220 {
			t.Errorf("%g ml are left, want %g", left, want)
		}
	})
}

// What is ill-formed is refused by name, with what would do, and nothing is
// told.
func TestWhatIsNotTold(t *testing.T) {
	a, at, _ := shop(t)
	run(t, console.Import{At: at, Products: demo(at).Products, Zones: demo(at).Zones, Lots: "../../testdata/shop/lots.csv"})
	before := a.Desk().Writer.Seq()
	for _, c := range []struct{ typed, want string }{
		{"lot-lost x=1", "KIND: lot-lost: one of job-opened, "},
		{"permit-issued permit_id=P1", "KIND: permit-issued: one of "}, // leave to spray is asked for, not told
		{"lot-recalled lot_id", "FIELD=VALUE: lot_id: a field, = and its value; the fields are lot_id (text), why (text)"},
		{"lot-recalled lot=MG-2507", "lot: no field of lot-recalled: one of lot_id (text), why (text)"},
		{"lot-recalled lot_id=MG-2507", "why: missing: give text; the fields are listed by: seamwright tell lot-recalled"},
		{"lot-recalled lot_id=MG-2507 lot_id=MG-2512 why=x", "lot_id: given twice"},
		{"lot-recalled lot_id=a/b why=x", "lot_id: \"a/b\": "},
		{"lot-recalled lot_id=MG-2507 why=x assessment.lapsed=1.1", "assessment.lapsed: no field of lot-recalled"},
		{"bead-laid seam_id=2207/x planned_ml=4", "planned_ml: no field of bead-laid"},
		{"cartridge-weighed cartridge_id=C1 marked=yes", "remaining_ml: missing: give a number of ml"}, // never 0 for want of a number
		{"cartridge-weighed cartridge_id=C1 remaining_ml=5", "marked: missing: give yes or no"},
		{"cartridge-weighed cartridge_id=C1 remaining_ml=NaN marked=yes", "remaining_ml: NaN: a number of ml"},
		{"cartridge-weighed cartridge_id=C1 remaining_ml=1e308 marked=no", "remaining_ml: 1e+308: "},
		{"cartridge-weighed cartridge_id=C1 remaining_ml= marked=no", "remaining_ml: missing: "},
		{"cartridge-weighed cartridge_id=C1 remaining_ml=5 marked=perhaps", "marked: perhaps: yes or no"},
		{"stock-counted lot_id=MG-2507 cartridges=-1", "cartridges: -1: a whole number, from 0"},
		{"stock-counted lot_id=MG-2507 cartridges=4294967297", "cartridges: 4294967297: a whole number"},
		{"stage-observed seam_id=2207/x clock=set", "clock: set: nozzle-gel, tooling, flow-out, handling, full-cure, coat-opens or coat-closes"},
		{"stage-observed seam_id=2207/x clock=handling", "seam \"2207/x\" is not known"},
		{"lot-received lot_id=L-1 product_id=mb-grey cartridges=2 expires=tomorrow", "expires: tomorrow: a time like 2026-03-02T07:30:00Z"},
		{"bead-laid seam_id=2207/x lasted=long", "lasted: long: a duration "},
		{"coat-applied seam_ids=2207/x over=waterborne under=e-coat dry_min=0 recoat_min=0", "under: beside over: one of them"},
		{"run-laid passes.2.seam_id=2207/x", "passes.2.seam_id: 2: a number from 1 to 1"},
		{"fact-corrected sequence=99999 why=x retime=no body.why=y", "fact \"99999\" is not known"},
		{"fact-corrected sequence=LAST why=x retime=no", "fact_corrected: nothing: "},
		{"lot-recalled lot_id=MG-2507 why=x body.why=y", "body: no field of lot-recalled"},
		{"reading-taken zone_id=bay-1 temp_c=20 by_hand=yes probe_id=p\n", "probe_id: "},
	} {
		words := strings.Split(strings.ReplaceAll(c.typed, "LAST", strconv.FormatUint(before, 10)), " ")
		if _, err := telling(t, console.Tell{At: at}, words[0], words[1:]...); err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%s: %v\nwant %s", c.typed, err, c.want)
		}
	}
	for _, c := range []struct {
		q    console.Tell
		want string
	}{
		{console.Tell{Name: " ", Role: "materials"}, "--name: missing: "},
		{console.Tell{Name: "x"}, "--role: missing: give what that person is to the shop: technician, painter, "},
		{console.Tell{Name: "x", Role: "boss"}, "--role: boss: technician, painter, foreman, materials, inspector or machine"},
		{console.Tell{Name: "x", Role: "painter", Terminal: "a b"}, "--terminal: a b: "},
		{console.Tell{Name: "x", Role: "painter", Ago: "soon"}, "--ago: soon: a duration "},
		{console.Tell{Name: "x", Role: "painter", Ago: "91 d"}, "--ago: 91 d: "},
	} {
		c.q.At = at
		if _, err := telling(t, c.q, "lot-recalled", "lot_id=MG-2507", "why=x"); err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%+v: %v\nwant %s", c.q, err, c.want)
		}
	}
	zone := []string{"zone_id=bay-9", "limit_low_c=5", "limit_high_c=40", "probe_error_c=0.5", "drift_c_per_min=0.5", "stale_after=10 min", "works=yes"}
	if _, err := telling(t, console.Tell{At: at}, "zone-defined", zone...); fault.KindOf(err) != fault.Denied || !strings.Contains(err.Error(), "a zone is defined by a foreman") {
		t.Errorf("a zone by the materials person: %v", err)
	}
	if n := a.Desk().Writer.Seq(); n != before {
		t.Errorf("%d facts were told", n-before)
	}
}

// A finding is answered by a foreman with the PIN, and by nobody else.
func TestAnAnswerWantsThePIN(t *testing.T) {
	a, at, _ := shop(t)
	q := demo(at)
	q.Readings = ""
	run(t, q)
	if _, err := telling(t, console.Tell{At: at}, "bead-laid", "seam_id=2207/rd-l", "layer=bead", "volume_ml=40"); err != nil {
		t.Fatal(err)
	}
	answer := []string{"finding_id=" + strconv.FormatUint(a.Desk().Writer.Seq(), 10) + ".1", "disposition=accept", "reason=looked at it"}
	dir := t.TempDir()
	list, err := os.ReadFile("../../testdata/shop/people.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "people.yaml"), list, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "running.json"), []byte(`{"grpc": "`+at.Address+`"}`), 0o600); err != nil {
		t.Fatal(err)
	}
	here := console.At{Dir: dir}
	foreman := func(at console.At, in io.Reader) console.Tell {
		return console.Tell{At: at, Name: "Ansa Vellacorn", Role: "foreman", In: in}
	}
	for _, c := range []struct {
		q    console.Tell
		want string
	}{
		{foreman(at, strings.NewReader("2468\n")), "no-pin"},
		{foreman(here, strings.NewReader("1357\n")), "wrong-pin"},
		{console.Tell{At: here, Name: "Tamsin Orrable", Role: "technician", In: strings.NewReader("2468\n")}, "not-a-foreman"},
	} {
		if _, err := telling(t, c.q, "finding-disposed", answer...); !fault.Is(err, c.want) {
			t.Errorf("%+v: %v, want %s", c.q, err, c.want)
		}
	}
	if _, err := telling(t, foreman(here, strings.NewReader("")), "finding-disposed", answer...); fault.KindOf(err) != fault.Invalid {
		t.Errorf("without a PIN: %v", err)
	}
	if _, err := telling(t, foreman(here, strings.NewReader("2468\n")), "finding-disposed", answer...); err != nil {
		t.Fatal(err)
	}
	floorOf(t, a, func(f *floor.Floor) {
		if x, ok := f.Finding(floor.FindingID(strings.TrimPrefix(answer[0], "finding_id="))); !ok || x.Open() || x.AnsweredBy != "Ansa Vellacorn" {
			t.Errorf("%+v", x)
		}
	})
	// What was answered is not corrected without the PIN either.
	seq := "sequence=" + strconv.FormatUint(a.Desk().Writer.Seq(), 10)
	if _, err := telling(t, foreman(at, nil), "fact-corrected", seq, "why=x", "retime=no", "body.reason=y"); !fault.Is(err, "no-pin") {
		t.Errorf("corrected: %v", err)
	}
}

// Every fact that the services take is a kind, and each says its fields.
func TestEveryFactIsAKind(t *testing.T) {
	var b bytes.Buffer
	if err := (console.Tell{}).Run(t.Context(), console.Out{W: &b, JSON: true}); err != nil {
		t.Fatal(err)
	}
	var a struct{ Kinds []string }
	if err := json.Unmarshal(b.Bytes(), &a); err != nil {
		t.Fatal(err)
	}
	facts := (&jobsv1.RecordRequest{}).ProtoReflect().Descriptor().Oneofs().ByName("fact").Fields()
	if len(a.Kinds) <= facts.Len() {
		t.Errorf("%d kinds, of which jobs has %d", len(a.Kinds), facts.Len())
	}
	for _, k := range a.Kinds {
		b.Reset()
		if err := (console.Tell{Kind: k}).Run(t.Context(), console.Out{W: &b, JSON: true}); err != nil {
			t.Fatal(err)
		}
		var f struct {
			Fields []struct {
				Field, Kind string
				Needed      bool
			}
		}
		if err := json.Unmarshal(b.Bytes(), &f); err != nil || len(f.Fields) == 0 {
			t.Errorf("%s: %v, %s", k, err, b.String())
		}
		for _, x := range f.Fields {
			if x.Kind == "" || strings.Contains(x.Field, "assessment") || protoreflect.Name(x.Field) == "planned_ml" {
				t.Errorf("%s: %+v", k, x)
			}
		}
	}
}

// The receipt as an object, with a moment within a list of messages.
func TestTheReceiptAsAnObject(t *testing.T) {
	a, at, _ := shop(t)
	run(t, console.Import{At: at, Zones: demo(at).Zones})
	var b bytes.Buffer
	q := console.Tell{
		At: at, Name: "import", Role: "machine", Kind: "booth-defined",
		Fields: []string{"booth_id=b-9", "zone_id=booth-1", "first_coat_min=20", "process_min=75", "open.1.from=2026-03-04T07:00:00Z", "open.1.to=2026-03-04T17:00:00+01:00", "coats=waterborne", "coats=undercoat"},
	}
	if err := q.Run(t.Context(), console.Out{W: &b, JSON: true}); err != nil {
		t.Fatal(err)
	}
	var got struct {
		Kind, Occurred, Withdraw string
		Sequence                 uint64
		Findings                 []any
	}
	if err := json.Unmarshal(b.Bytes(), &got); err != nil || got.Kind != "booth-defined" || got.Sequence != a.Desk().Writer.Seq() || got.Occurred != "2026-03-03T12:00:00.000Z" || got.Findings == nil || got.Withdraw == "" {
		t.Errorf("%v, %s", err, b.String())
	}
	floorOf(t, a, func(f *floor.Floor) {
		b := f.Booth("b-9")
		if len(b.Hours) != 1 || !b.Hours[0].To.Equal(time.Date(2026, 3, 4, 16, 0, 0, 0, time.UTC)) || len(b.Coats) != 2 {
			t.Errorf("%+v", b)
		}
	})
}
