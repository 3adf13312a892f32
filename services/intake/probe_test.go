package intake

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"seamwright/services/fault"
)

func TestProbeMessages(t *testing.T) {
	at := time.Date(2026, 3, 2, 7, 30, 0, 0, time.UTC)
	rh, surface := 48.5, 19.25
	for text, want := range map[string]Reading{
		"21.4":     {TempC: 21.4},
		" -3\r\n":  {TempC: -3},
		"2e1":      {TempC: 20},
		"-0":       {},
		"\ufeff21": {TempC: 21},
		`{"time":"2026-03-02T08:30:00+01:00","temp_c":21.4}`:                                      {At: at, TempC: 21.4},
		`{"surface_c":19.25,"rh_percent":48.5,"temp_c":-60,"time":"2026-03-02T07:30:00Z"}` + "\n": {At: at, TempC: -60, RHPercent: &rh, SurfaceC: &surface},
	} {
		got, err := ReadProbe("p", []byte(text))
		if d := cmp.Diff(want, got); err != nil || d != "" || got.Timed() != strings.Contains(text, "time") {
			t.Errorf("%q: %v\n%s", text, err, d)
		}
	}
	object := func(s string) string { return `{"time":"2026-03-02T07:30:00Z",` + s + `}` }
	for text, part := range map[string]string{
		"":                                     "content",
		" \n":                                  "content",
		"warm":                                 "warm",
		"21,4":                                 "21,4",
		"0x15":                                 "0x15",
		"NaN":                                  "NaN",
		"Inf":                                  "Inf",
		"1e999":                                "1e999",
		"201":                                  "201",
		"-61":                                  "-61",
		`"21"`:                                 `"21"`,
		"[21]":                                 "[21]",
		"null":                                 "null",
		"21 22":                                "21 22",
		"\xff\xfe":                             "UTF-8",
		"{":                                    "too soon",
		"{}":                                   "time: missing",
		object(`"temp_c":"21"`):                "temp_c",
		object(`"temp_c":null`):                "temp_c",
		object(`"temp_c":201`):                 "temp_c",
		object(`"temp_c":1e999`):               "temp_c",
		object(`"temp_C":21`):                  "temp_C",
		object(`"temp_c":1,"temp_c":2`):        "twice",
		object(`"temp_c":1,"zone":"bay-2"`):    "zone",
		object(`"temp_c":1,"rh_percent":0`):    "rh_percent",
		object(`"temp_c":1,"rh_percent":null`): "rh_percent",
		object(`"temp_c":1,"surface_c":-61`):   "surface_c",
		object(`"temp_c":1`) + "21":            "",
		`{"temp_c":21}`:                        "time: missing",
		`{"time":"2026-03-02 07:30","temp_c":21}`:     "time",
		`{"time":1772436600,"temp_c":21}`:             "time",
		`{"time":"9999-03-02T07:30:00Z","temp_c":21}`: "time",
		strings.Repeat(" ", MaxProbeBytes) + "21":     "1024",
		strings.Repeat(`{"a":`, 100) + "1":            "",
	} {
		got, err := ReadProbe("bay-1/p1", []byte(text))
		if fault.KindOf(err) != fault.Invalid || !strings.Contains(err.Error(), part) || !strings.HasPrefix(err.Error(), "bay-1/p1") || strings.ContainsAny(err.Error(), "\r\n") {
			t.Errorf("%q: %+v, %v, want %q named", text, got, err, part)
		}
	}
}

func FuzzProbe(f *testing.F) {
	for _, s := range []string{
		"21.4", "-0", "1e2", `{"time":"2026-03-02T07:30:00Z","temp_c":21.4,"rh_percent":48,"surface_c":19}`,
		`{"time":"2026-03-02T07:30:00.123456789+05:30","temp_c":-60}`, "{", "[]", "\ufeff20", `{"temp_c":1,"temp_c":1}`,
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := ReadProbe("f", data)
		if err != nil {
			refused(t, err)
			return
		}
		if !(r.TempC >= -60 && r.TempC <= 200) || r.RHPercent != nil && !(*r.RHPercent > 0 && *r.RHPercent <= 100) ||
			r.SurfaceC != nil && !(*r.SurfaceC >= -60 && *r.SurfaceC <= 200) || len(data) > MaxProbeBytes {
			t.Fatalf("accepted out of range: %+v", r)
		}
		tree := map[string]any{"temp_c": r.TempC}
		if !r.Timed() {
			if r.RHPercent != nil || r.SurfaceC != nil {
				t.Fatalf("accepted without its time: %+v", r)
			}
			same(t, ReadProbe, []byte(num(r.TempC)), r)
			return
		}
		tree["time"] = r.At.Format(time.RFC3339Nano)
		if r.RHPercent != nil {
			tree["rh_percent"] = *r.RHPercent
		}
		if r.SurfaceC != nil {
			tree["surface_c"] = *r.SurfaceC
		}
		text, err := json.Marshal(tree)
		if err != nil {
			t.Fatal(err)
		}
		same(t, ReadProbe, text, r)
	})
}
