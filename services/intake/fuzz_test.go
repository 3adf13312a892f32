package intake

import (
	"bytes"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"

	"seamwright/services/calc/spec"
	"seamwright/services/fault"
)

// fuzzed is the name under which the fuzz targets read their files.
const fuzzed = "f"

// refused checks the error of a refused file: an invalid fault on one line of
// a length that somebody reads, which begins with the file and says for each
// mistake where it stands and what is allowed.
func refused(t *testing.T, err error) {
	t.Helper()
	text := err.Error()
	e, ok := errors.AsType[*fault.Error](err)
	if !ok || e.Kind != fault.Invalid || strings.ContainsAny(text, "\n\r\x00") || !utf8.ValidString(text) {
		t.Fatalf("%v: %q, want an invalid fault on one line", fault.KindOf(err), err)
	}
	if len(text) > 24<<10 {
		t.Fatalf("a refusal of %d bytes: %.400s", len(text), text)
	}
	if len(e.Fields) == 0 {
		t.Fatalf("%q names no place", text)
	}
	for _, f := range e.Fields {
		if !strings.HasPrefix(f.Path, fuzzed) || f.Value == "" || f.Limit == "" {
			t.Fatalf("%q: %+v, want file, line or field, then value and limit", text, f)
		}
	}
}

// same reads what was written again and wants the same value.
func same[T any](t *testing.T, read func(string, []byte) (T, error), text []byte, want T) {
	t.Helper()
	got, err := read("again", text)
	if err != nil {
		t.Fatalf("what was accepted is refused when written again: %v\n%s", err, text)
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Fatalf("it comes back changed (-want +got)\n%s", d)
	}
}

func FuzzProduct(f *testing.F) {
	f.Add([]byte(productText))
	f.Add([]byte("id: x\nclass: medium-bodied\ncartridge_ml: 50\ncure: {reference_temp_c: 21, tolerance_percent: 0, stages: {tooling: 0}, points: [{stage: handling, temp_c: 15, minutes: 70}]}\n"))
	f.Add([]byte("id: &a x\nname: *a\n<<: *a\n"))
	f.Add([]byte("? [a, b]\n: c\n"))
	f.Add([]byte("\ufeff%YAML 1.2\n---\n!!map {}\n"))
	f.Fuzz(func(t *testing.T, data []byte) { checkProduct(t, data) })
}

func checkProduct(t *testing.T, data []byte) {
	read := func(n string, b []byte) (Product, error) { return ReadProduct(n, bytes.NewReader(b)) }
	p, err := read(fuzzed, data)
	if err != nil {
		refused(t, err)
		return
	}
	if p.ID == "" || p.Class == "" || !(p.CartridgeML > 0) || len(p.Cure.StageMin) == 0 ||
		!(p.Cure.TolerancePercent >= 0 && p.Cure.TolerancePercent < 100) || math.IsInf(p.CartridgeML, 0) {
		t.Fatalf("accepted out of range: %+v", p)
	}
	for _, w := range p.Cure.Over {
		if !(w.OpensMin >= 0 && w.ClosesMin >= w.OpensMin && w.ClosesMin <= 525600) {
			t.Fatalf("accepted window %+v", w)
		}
	}
	same(t, read, toYAML(t, productTree(p)), p)
}

func FuzzZone(f *testing.F) {
	f.Add([]byte(zoneText))
	f.Add([]byte("{id: z, limits_c: [-0, 0], probe_error_c: 0, drift_c_per_min: 0, stale_after_min: 1e-3}"))
	f.Fuzz(func(t *testing.T, data []byte) { checkZone(t, data) })
}

func checkZone(t *testing.T, data []byte) {
	read := func(n string, b []byte) (Zone, error) { return ReadZone(n, bytes.NewReader(b)) }
	z, err := read(fuzzed, data)
	if err != nil {
		refused(t, err)
		return
	}
	if !(z.LimitLowC <= z.LimitHighC && z.ProbeErrorC >= 0 && z.DriftCPerMin >= 0 && z.StaleAfterMin > 0 && z.SettlingMin >= 0) {
		t.Fatalf("accepted out of range: %+v", z)
	}
	same(t, read, toYAML(t, map[string]any{
		"id": z.ID, "limits_c": []float64{z.LimitLowC, z.LimitHighC}, "probe_error_c": z.ProbeErrorC,
		"drift_c_per_min": z.DriftCPerMin, "stale_after_min": z.StaleAfterMin, "settling_min": z.SettlingMin,
	}), z)
}

func FuzzBooth(f *testing.F) {
	f.Add([]byte(boothText))
	f.Add([]byte("{id: b, first_coat_min: 1, process_min: 1, setup_min: {a: {a: 0}}}"))
	f.Fuzz(func(t *testing.T, data []byte) { checkBooth(t, data) })
}

func checkBooth(t *testing.T, data []byte) {
	read := func(n string, b []byte) (Booth, error) { return ReadBooth(n, bytes.NewReader(b)) }
	b, err := read(fuzzed, data)
	if err != nil {
		refused(t, err)
		return
	}
	for i, o := range b.Open {
		if !o.From.Before(o.To) || (i > 0 && !b.Open[i-1].To.Before(o.From)) {
			t.Fatalf("accepted calendar %+v", b.Open)
		}
	}
	if !(b.FirstCoatMin > 0 && b.FirstCoatMin <= b.ProcessMin) {
		t.Fatalf("accepted out of range: %+v", b)
	}
	open := [][]string{}
	for _, o := range b.Open {
		open = append(open, []string{o.From.Format(time.RFC3339Nano), o.To.Format(time.RFC3339Nano)})
	}
	same(t, read, toYAML(t, map[string]any{
		"id": b.ID, "zone": b.ZoneID, "coats": b.Coats, "open": open, "first_coat_min": b.FirstCoatMin,
		"process_min": b.ProcessMin, "setup_min": b.SetupMin,
	}), b)
}

func FuzzReadings(f *testing.F) {
	f.Add([]byte(readingsText))
	f.Add([]byte("\ufefftemp_c,time\r\n1e2,2199-12-31t23:59:59.999999999z\r\n"))
	f.Add([]byte("time,temp_c\n\"\"\"\n"))
	f.Fuzz(func(t *testing.T, data []byte) { checkReadings(t, data) })
}

func checkReadings(t *testing.T, data []byte) {
	read := func(n string, b []byte) ([]Reading, error) { return ReadReadings(n, bytes.NewReader(b)) }
	rs, err := read(fuzzed, data)
	if err != nil {
		refused(t, err)
		return
	}
	rows := [][]string{{"time", "temp_c", "rh_percent", "surface_c"}}
	for i, r := range rs {
		if i > 0 && !rs[i-1].At.Before(r.At) {
			t.Fatalf("not by time: %v, %v", rs[i-1], r)
		}
		if !(r.TempC >= -60 && r.TempC <= 200) || (r.RHPercent != nil && !(*r.RHPercent > 0 && *r.RHPercent <= 100)) {
			t.Fatalf("accepted out of range: %+v", r)
		}
		rows = append(rows, []string{r.At.Format(time.RFC3339Nano), num(r.TempC), opt(r.RHPercent), opt(r.SurfaceC)})
	}
	same(t, read, toCSV(t, rows), rs)
}

func FuzzLoads(f *testing.F) {
	f.Add([]byte(loadsText))
	f.Add([]byte("seams,ro,booth,load,colour,coat\n a ; b ,r,b,l,\"x,\"\"y\"\"\",waterborne\n"))
	f.Fuzz(func(t *testing.T, data []byte) { checkLoads(t, data) })
}

func checkLoads(t *testing.T, data []byte) {
	read := func(n string, b []byte) ([]Load, error) { return ReadLoads(n, bytes.NewReader(b)) }
	ls, err := read(fuzzed, data)
	if err != nil {
		refused(t, err)
		return
	}
	rows := [][]string{{"load", "booth", "ro", "colour", "first_coat_min", "process_min", "seams", "coat"}}
	ids := map[string]bool{}
	for _, l := range ls {
		if ids[l.ID] || l.Colour == "" {
			t.Fatalf("accepted %+v", l)
		}
		ids[l.ID] = true
		rows = append(rows, []string{
			l.ID, l.BoothID, l.RO, l.Colour, opt(l.FirstCoatMin), opt(l.ProcessMin),
			strings.Join(l.Seams, ";"), string(l.Coat),
		})
	}
	same(t, read, toCSV(t, rows), ls)
}

// unplaced forgets on which line each seam stood.
func unplaced(jobs []Job, err error) ([]Job, error) {
	for _, j := range jobs {
		for i := range j.Seams {
			j.Seams[i].Line = 0
		}
	}
	return jobs, err
}

func FuzzSurvey(f *testing.F) {
	f.Add([]byte(surveyText))
	f.Add([]byte("ro,vehicle,seam,panel,place,finish,substrate\n1,van,a,p,\"x\ny\",coated,unknown\n1,van,b,p,z,exposed,\n"))
	f.Add([]byte("ro,vehicle,seam,panel,place,finish,vin\n2,car,a,p,x,coated,W0XZZ11ZXAB000001\n"))
	f.Fuzz(func(t *testing.T, data []byte) { checkSurvey(t, data) })
}

func checkSurvey(t *testing.T, data []byte) {
	read := func(n string, b []byte) ([]Job, error) { return unplaced(ReadSurvey(n, bytes.NewReader(b))) }
	jobs, err := read(fuzzed, data)
	if err != nil {
		refused(t, err)
		return
	}
	for _, j := range jobs {
		ids := map[string]bool{}
		for _, s := range j.Seams {
			if ids[s.ID] || s.Finish == "" || s.ReferenceSource == "" || s.Substrate == spec.SubstrateUnknown ||
				(s.WidthMM != nil && !(*s.WidthMM > 0)) || (s.LengthMM != nil && !(*s.LengthMM <= 20000)) {
				t.Fatalf("accepted %+v", s)
			}
			ids[s.ID] = true
		}
	}
	same(t, read, toCSV(t, surveyRows(jobs)), jobs)
}

func TestSurveyRowsNameEveryColumn(t *testing.T) {
	jobs, err := ReadSurvey("f", strings.NewReader(surveyText))
	if err != nil {
		t.Fatal(err)
	}
	head, _, _ := strings.Cut(surveyText, "\n")
	want := append(strings.Split(head, ","), "sheet_mm") // which is told where it is known
	got := surveyRows(jobs)[0]
	slices.Sort(want)
	slices.Sort(got)
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("columns (-described +read)\n%s", d)
	}
}

func TestASurveyMayTellTheSheet(t *testing.T) {
	read := func(mm string) ([]Job, error) {
		return ReadSurvey("f", strings.NewReader("ro,vehicle,seam,panel,place,finish,sheet_mm\n2207,van,a,door,hem,coated,"+mm+"\n"))
	}
	if jobs, err := read("0.8"); err != nil || jobs[0].Seams[0].SheetMM == nil || *jobs[0].Seams[0].SheetMM != 0.8 {
		t.Errorf("0.8: %+v, %v", jobs, err)
	}
	if jobs, err := read(""); err != nil || jobs[0].Seams[0].SheetMM != nil {
		t.Errorf("unknown: %+v, %v", jobs, err)
	}
	for _, mm := range []string{"0", "0.05", "51", "NaN", "thin"} {
		if _, err := read(mm); fault.KindOf(err) != fault.Invalid || !strings.Contains(err.Error(), "sheet_mm") {
			t.Errorf("%s: %v", mm, err)
		}
	}
}
