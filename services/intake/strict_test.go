package intake

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"seamwright/services/calc/spec"
	"seamwright/services/fault"
)

// reader reads with any decoder and keeps the error.
type reader func(string, io.Reader) error

func reads[T any](read func(string, io.Reader) (T, error)) reader {
	return func(name string, r io.Reader) error { _, err := read(name, r); return err }
}

var kinds = map[string]struct {
	read reader
	text string
}{
	"product":  {reads(ReadProduct), productText},
	"zone":     {reads(ReadZone), zoneText},
	"booth":    {reads(ReadBooth), boothText},
	"readings": {reads(ReadReadings), readingsText},
	"loads":    {reads(ReadLoads), loadsText},
	"survey":   {reads(ReadSurvey), surveyText},
}

func TestByteOrderMarkAndLineEnds(t *testing.T) {
	for kind, k := range kinds {
		for _, text := range []string{
			k.text, "\ufeff" + k.text,
			strings.ReplaceAll(k.text, "\n", "\r\n"), "\ufeff" + strings.ReplaceAll(k.text, "\n", "\r\n"),
		} {
			if err := k.read("f", strings.NewReader(text)); err != nil {
				t.Errorf("%s: %v", kind, err)
			}
		}
	}
}

// refusals change one thing of a good file: old becomes new, and the error
// must name the place and the value.
var refusals = []struct{ kind, old, new, place, value string }{
	{"product", "id: hb-white\n", "", "f:1 id", "missing"},
	{"product", "id: hb-white", "id: hb white", "f:1 id", "hb white"},
	{"product", "id: hb-white", "id: null", "f:1 id", "missing"},
	{"product", "id: hb-white", "id: &a hb-white", "f:1 id", "hb-white"},
	{"product", "name: Demo", "nmae: Demo", "f:2 nmae", "unknown key"},
	{"product", "name: Demo heavy-bodied white", "name: \"Demo\\theavy\"", "f:2 name", `"Demo\theavy`},
	{"product", "class: heavy-bodied", "class: heavy", "f:3 class", "heavy"},
	{"product", "build: standard", "build: high-build", "f:4 build", "high-build"},
	{"product", "cartridge_ml: 200", "cartridge_ml: 200\ncartridge_ml: 200", "f:7 cartridge_ml", "repeated key"},
	{"product", "cartridge_ml: 200", "cartridge_ml: 0", "f:6 cartridge_ml", "0"},
	{"product", "cartridge_ml: 200", "cartridge_ml: .inf", "f:6 cartridge_ml", ".inf"},
	{"product", "cartridge_ml: 200", "cartridge_ml: .nan", "f:6 cartridge_ml", ".nan"},
	{"product", "cartridge_ml: 200", "cartridge_ml: 1e400", "f:6 cartridge_ml", "1e400"},
	{"product", "cartridge_ml: 200", "cartridge_ml: 0x10", "f:6 cartridge_ml", "0x10"},
	{"product", "cartridge_ml: 200", "cartridge_ml: 2_00", "f:6 cartridge_ml", "2_00"},
	{"product", "cartridge_ml: 200", "cartridge_ml: [200]", "f:6 cartridge_ml", "a list"},
	{"product", `"1:1"`, `"1:0"`, "f:7 mix_ratio", "1:0"},
	{"product", `"31.50"`, `"-31.50"`, "f:8 price.amount", "-31.50"},
	{"product", `"31.50"`, `"31,50"`, "f:8 price.amount", "31,50"},
	{"product", "currency: USD", "currency: usd", "f:8 price.currency", "usd"},
	{"product", `price: {amount: "31.50", currency: USD}`, `price: {amount: "31.50"}`, "f:8 price.currency", "missing"},
	{"product", "lab: [94.0, -0.8, 2.1]", "lab: [94.0, -0.8]", "f:5 colour.lab", "2 items"},
	{"product", "lab: [94.0,", "lab: [194.0,", "f:5 colour.lab[0]", "194.0"},
	{"product", "shelf_life_days: 365", "shelf_life_days: -1", "f:9 shelf_life_days", "-1"},
	{"product", "[bare-steel,", "[bare-steel, bare-steel,", "f:12 substrates", "bare-steel"},
	{"product", "[bare-steel,", "[rust,", "f:12 substrates", "rust"},
	{"product", "[bare-steel,", "[unknown,", "f:12 substrates", "unknown"},
	{"product", "reference_temp_c: 21", "reference_temp_c: 121", "f:14 cure.reference_temp_c", "121"},
	{"product", "activation_energy_kj_mol: 52", "activation_energy_kj_mol: 9", "f:15 cure.activation_energy_kj_mol", "9"},
	{"product", "activation_energy_kj_mol: 52", "activation_energy_band_kj_mol: [60, 45]", "f:15 cure.activation_energy_band_kj_mol", "60 to 45"},
	{"product", "activation_energy_kj_mol: 52", "activation_energy_kj_mol: 52\n  rate_doubles_per_k: 10", "f:16 cure.rate_doubles_per_k", "beside activation_energy_kj_mol"},
	{"product", "activation_energy_kj_mol: 52", "rate_doubles_per_k: 1", "f:15 cure.rate_doubles_per_k", "1"},
	{"product", "activation_energy_kj_mol: 52", "points: [{stage: setting, temp_c: 15, minutes: 70}]", "f:15 cure.points[0].stage", "setting"},
	{"product", "activation_energy_kj_mol: 52", "points: [{stage: handling, temp_c: 15, minutes: 0}]", "f:15 cure.points[0].minutes", "0"},
	{"product", "max_temp_c: 40", "max_temp_c: 9", "f:17 cure.max_temp_c", "9"},
	{"product", "tolerance_percent: 10", "tolerance_percent: 100", "f:18 cure.tolerance_percent", "100"},
	{"product", "tooling: 12", "toolin: 12", "f:21 cure.stages.toolin", "unknown key"},
	{"product", "tooling: 12", "tooling: NaN", "f:21 cure.stages.tooling", "NaN"},
	{"product", "waterborne: {opens: 60, closes: 2880}", "waterborne: {opens: 60, closes: 59}", "f:29 cure.over.waterborne.closes", "59"},
	{"product", "waterborne: {opens: 60, closes: 2880}", "lacquer: {opens: 60, closes: 2880}", "f:29 cure.over.lacquer", "unknown key"},
	{"product", "id: hb-white\n", "id: hb-white\n---\nid: x\n", "f:2", "a second document"},
	{"product", "id: hb-white", "id: [", "f:2", ""},
	{"zone", "limits_c: [5, 35]", "limits_c: [35, 5]", "f:2 limits_c", "35 to 5"},
	{"zone", "limits_c: [5, 35]", "limits_c: [5, 35, 40]", "f:2 limits_c", "3 items"},
	{"zone", "limits_c: [5, 35]\n", "", "f:1 limits_c", "missing"},
	{"zone", "probe_error_c: 0.5", "probe_error_c: -0.5", "f:3 probe_error_c", "-0.5"},
	{"zone", "stale_after_min: 15", "stale_after_min: 0", "f:5 stale_after_min", "0"},
	{"zone", "stale_after_min: 15", "stale_after_min: 2.9", "f:5 stale_after_min", "2.9"},
	{"booth", "zone: booth-1", "zone: booth 1", "f:2 zone", "booth 1"},
	{"booth", "[waterborne]", "[waterborn]", "f:3 coats", "waterborn"},
	{"booth", `"2026-03-02T12:00:00Z"`, `"2026-03-02T07:30:00Z"`, "f:5 open[0]", "2026-03-02T07:30:00Z"},
	{"booth", `"2026-03-02T12:00:00Z"`, `"2026-03-02T12:00:00"`, "f:5 open[0]", "2026-03-02T12:00:00"},
	{"booth", `"2026-03-02T12:00:00Z"`, `"2026-02-30T12:00:00Z"`, "f:5 open[0]", "2026-02-30T12:00:00Z"},
	{"booth", `"2026-03-02T14:00:00+01:00"`, `"2026-03-02T14:00:00+02:00"`, "f:6 open[1]", "2026-03-02T14:00:00+02:00"},
	{"booth", "first_coat_min: 20", "first_coat_min: 76", "f:7 first_coat_min", "76"},
	{"booth", "red: {white: 40, red: 5.5}", "red: {white: 40}", "f:10 setup_min.red.red", "missing"},
	{"booth", "red: {white: 40, red: 5.5}", "red: {white: -4, red: 5.5}", "f:11 setup_min.red.white", "-4"},
	{"readings", "time,temp_c", "time,temp", "f:1 temp", "unknown column"},
	{"readings", "rh_percent,surface_c", "rh_percent,rh_percent", "f:1 rh_percent", "repeated column"},
	{"readings", "T08:02:00Z", "T08:00:00Z", "f:3 time", "2026-03-02T09:00:00+01:00"},
	{"readings", "T08:02:00Z", "T08:02Z", "f:2 time", "2026-03-02T08:02Z"},
	{"readings", "2026-03-02T08", "1969-03-02T08", "f:2 time", "1969"},
	{"readings", "18.5,54.0", "NaN,54.0", "f:2 temp_c", "NaN"},
	{"readings", "18.5,54.0", "-Inf,54.0", "f:2 temp_c", "-Inf"},
	{"readings", "18.5,54.0", ",54.0", "f:2 temp_c", "(empty)"},
	{"readings", "18.5,54.0", "18.5,100.1", "f:2 rh_percent", "100.1"},
	{"readings", "18.5,54.0", "\"18,5\",54.0", "f:2 temp_c", "18,5"},
	{"readings", "18.4,,", "18.4,", "f:3", "3 cells"},
	{"readings", "18.4,,", "18.4,\",", "f:3", ""},
	{"loads", "2207-B", "2207-A", "f:3 load", "2207-A"},
	{"loads", ",20,80,", ",81,80,", "f:2 first_coat_min", "81"},
	{"loads", "rd-l;rd-r", "rd-l;rd-l", "f:2 seams", "rd-l"},
	{"loads", "rd-l;rd-r", "rd-l;;rd-r", "f:2 seams", "(empty)"},
	{"loads", "2207,blue,20", "2207,,20", "f:2 colour", "(empty)"},
	{"survey", "1G4AH59H45G118341", "1G4AH59H46G118341", "f:2 vin", "1G4AH59H46G118341"},
	{"survey", "1g4ah59h45g118341", "11111111111111111", "f:3 vin", "11111111111111111"},
	{"survey", "Z,3,90", "Z,4,90", "f:3 weight", "3.0"},
	{"survey", "waterborne; solventborne", "waterborne", "f:3 coats", "waterborne"},
	{"survey", ",qw-l,", ",rd-l,", "f:3 seam", "rd-l"},
	{"survey", ",L,level,", ",L,flat,", "f:2 orientation", "flat"},
	{"survey", "coated,epoxy-primer", "painted,epoxy-primer", "f:2 finish", "painted"},
	{"survey", "61.2,-0.4,-1.6", "61.2,,-1.6", "f:2 lab_l", "61.2"},
	{"survey", "14,2.2,1620", "0,2.2,1620", "f:2 width_mm", "0"},
	{"survey", "waterborne;solventborne", "waterborne;varnish", "f:2 coats", "varnish"},
}

func TestRefusals(t *testing.T) {
	for _, c := range refusals {
		k := kinds[c.kind]
		if strings.Count(k.text, c.old) == 0 {
			t.Fatalf("%s: %q is not in the good text", c.kind, c.old)
		}
		err := k.read("f", strings.NewReader(strings.Replace(k.text, c.old, c.new, 1)))
		if err == nil {
			t.Errorf("%s with %q was accepted", c.kind, c.new)
			continue
		}
		if fault.KindOf(err) != fault.Invalid || strings.ContainsAny(err.Error(), "\n\r") {
			t.Errorf("%s with %q: %v (%q), want an invalid fault on one line", c.kind, c.new, fault.KindOf(err), err)
		}
		f, _ := errors.AsType[*fault.Error](err)
		if f.Fields[0].Path != c.place || !strings.Contains(f.Fields[0].Value, c.value) || f.Fields[0].Limit == "" {
			t.Errorf("%s with %q: first mistake %+v, want %s with %q", c.kind, c.new, f.Fields[0], c.place, c.value)
		}
		if !strings.HasPrefix(err.Error(), c.place+": ") || f.Hint == "" {
			t.Errorf("%s with %q: %q does not begin with its place or says not what to do", c.kind, c.new, err)
		}
	}
}

func TestAllMistakesOfAFileComeBackTogether(t *testing.T) {
	text := "time,temp_c\nx,1\n2026-03-02T08:02:00Z,y\n2026-03-02T08:02:00Z,3\n"
	_, err := ReadReadings("f", strings.NewReader(text))
	f, ok := errors.AsType[*fault.Error](err)
	if !ok || len(f.Fields) != 3 {
		t.Fatalf("got %v, want three mistakes", err)
	}
	many := "time,temp_c\n" + strings.Repeat("x,1\n", 50)
	_, err = ReadReadings("f", strings.NewReader(many))
	if f, ok = errors.AsType[*fault.Error](err); !ok || len(f.Fields) != maxFaults || !strings.Contains(err.Error(), "and 30 more") {
		t.Errorf("got %v, want %d mistakes and the count of the rest", err, maxFaults)
	}
}

func TestEmptyHugeAndIllFormedFiles(t *testing.T) {
	for kind, k := range kinds {
		for name, text := range map[string]string{
			"empty": "", "blank": " \n\t", "mark only": "\ufeff", "latin": "id: caf\xe9", "null byte": "\x00",
			"huge": strings.Repeat("#", MaxBytes+1), "a comment": "# nothing", "a word": "word", "a list": "- 1",
		} {
			err := k.read("f", strings.NewReader(text))
			if err == nil || fault.KindOf(err) != fault.Invalid || !strings.HasPrefix(err.Error(), "f") {
				t.Errorf("%s, %s: %v, want an invalid fault", kind, name, err)
			}
		}
	}
}

func TestTooManyRows(t *testing.T) {
	var b strings.Builder
	b.WriteString("load,booth,ro,colour,seams\n")
	for i := range MaxLoads + 1 {
		fmt.Fprintf(&b, "L%d,b,r,c,\n", i)
	}
	_, err := ReadLoads("f", strings.NewReader(b.String()))
	if err == nil || !strings.Contains(err.Error(), "at most 10000 rows") {
		t.Errorf("got %v, want the limit of rows", err)
	}
}

type broken struct{}

func (broken) Read([]byte) (int, error) { return 0, errors.New("the disk went away") }

func TestUnreadableFile(t *testing.T) {
	for kind, k := range kinds {
		if err := k.read("f", broken{}); err == nil || !fault.Is(err, "unreadable-file") || !strings.Contains(err.Error(), "the disk went away") {
			t.Errorf("%s: %v", kind, err)
		}
	}
}

// The example product is the one of the project's own description of its
// files: nothing outside states it.
func TestProductIsReadWhole(t *testing.T) {
	p, err := ReadProduct("f", strings.NewReader(productText))
	if err != nil {
		t.Fatal(err)
	}
	c := p.Cure
	if p.ID != "hb-white" || p.Class != spec.HeavyBodied || p.Build != "" || *p.Lab != (spec.Lab{L: 94, A: -0.8, B: 2.1}) ||
		p.Price != "31.50" || p.Currency != "USD" || p.MixRatio != "1:1" || len(p.Substrates) != 7 ||
		c.ReferenceTempC != 21 || *c.ActivationEnergyKJMol != 52 || *c.MinTempC != 10 || *c.MaxTempC != 40 ||
		c.TolerancePercent != 10 || c.StageMin[FullCure] != 1440 || len(c.StageMin) != 5 ||
		c.Over[spec.Waterborne] != (Window{60, 2880}) || len(c.Over) != 4 || *c.AfterScuffClosesMin != 1440 {
		t.Errorf("%+v", p)
	}
}

func TestSelfLevellingNeedsItsFlowOut(t *testing.T) {
	text := strings.Replace(productText, "class: heavy-bodied", "class: self-levelling", 1)
	p, err := ReadProduct("f", strings.NewReader(text))
	if err != nil || p.Build != spec.StandardBuild {
		t.Fatalf("%v, build %q", err, p.Build)
	}
	_, err = ReadProduct("f", strings.NewReader(strings.Replace(text, "    flow-out: 15\n", "", 1)))
	if err == nil || !strings.Contains(err.Error(), "cure.stages.flow-out: missing") {
		t.Errorf("got %v", err)
	}
}

func TestUnknownsStayUnknown(t *testing.T) {
	p, err := ReadProduct("f", strings.NewReader("id: x\nclass: medium-bodied\ncartridge_ml: 50\ncure: {reference_temp_c: 21, tolerance_percent: 0, stages: {tooling: 0}}\n"))
	if err != nil {
		t.Fatal(err)
	}
	if p.Name != "x" || p.Lab != nil || p.Price != "" || p.Substrates != nil || p.Cure.MinTempC != nil || p.Cure.ActivationEnergyKJMol != nil || len(p.Cure.Over) != 0 {
		t.Errorf("%+v", p)
	}
	if x, ok := p.Cure.StageMin[Tooling]; !ok || x != 0 || len(p.Cure.StageMin) != 1 {
		t.Errorf("a stage of 0 minutes is not an unknown one: %v", p.Cure.StageMin)
	}
	rs, err := ReadReadings("f", strings.NewReader(readingsText))
	if err != nil || len(rs) != 2 || rs[0].RHPercent != nil || rs[1].SurfaceC == nil || !rs[0].At.Before(rs[1].At) {
		t.Errorf("%+v %v, want them by time with empty cells unknown", rs, err)
	}
	rs, err = ReadReadings("f", strings.NewReader("time,temp_c\n"))
	if err != nil || rs == nil || len(rs) != 0 {
		t.Errorf("a file without rows: %v %v", rs, err)
	}
	jobs, err := ReadSurvey("f", strings.NewReader(surveyText))
	if err != nil || len(jobs) != 1 || len(jobs[0].Seams) != 2 {
		t.Fatalf("%+v %v", jobs, err)
	}
	if s := jobs[0].Seams[1]; s.LengthMM != nil || s.Class != "" || s.Orientation != "" || !s.Hidden() {
		t.Errorf("%+v", s)
	}
}

// A measured colour with one number out of range lacks none: only the range is
// said. One that lacks a number is told so, also beside one out of range.
func TestAColourOutOfRangeIsNotIncomplete(t *testing.T) {
	const together = "lab_l, lab_a and lab_b together"
	for cells, lacks := range map[string]bool{
		"161.2,-0.4,-1.6": false, "61.2,-0.4,x": false, "161.2,,-1.6": true, "61.2,-0.4,": true,
	} {
		_, err := ReadSurvey("f", strings.NewReader(strings.Replace(surveyText, "61.2,-0.4,-1.6", cells, 1)))
		if err == nil || strings.Contains(err.Error(), together) != lacks {
			t.Errorf("%s: %v", cells, err)
		}
		if first, _, _ := strings.Cut(cells, ","); first == "161.2" && !strings.Contains(err.Error(), "f:2 lab_l: 161.2: a number from 0 to 100") {
			t.Errorf("%s: the range is not said: %v", cells, err)
		}
	}
}
