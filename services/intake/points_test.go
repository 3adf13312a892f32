package intake

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestReadPoints(t *testing.T) {
	got, err := ReadPoints("p.csv", strings.NewReader("\ufefftemp_c,stage,minutes\r\n15,handling,70\r\n-5.5,tack free,1e3\r\n"))
	want := []Point{{Stage: "handling", TempC: 15, Minutes: 70}, {Stage: "tack free", TempC: -5.5, Minutes: 1000}}
	if diff := cmp.Diff(want, got); err != nil || diff != "" {
		t.Errorf("%v (-want +got):\n%s", err, diff)
	}
	for text, in := range map[string]string{
		"stage,temp_c\nhandling,15\n":                        "p.csv:1 minutes",
		"stage,temp_c,minutes,note\n":                        "p.csv:1 note: unknown column",
		"stage,temp_c,minutes\n,15,70\n":                     "p.csv:2 stage",
		"stage,temp_c,minutes\nhandling,15,0\n":              "p.csv:2 minutes: 0: ",
		"stage,temp_c,minutes\nhandling,NaN,70\n":            "p.csv:2 temp_c: NaN: ",
		"stage,temp_c,minutes\nhandling,15,70\nhandling,1\n": "p.csv:3: 2 cells",
	} {
		if _, err := ReadPoints("p.csv", strings.NewReader(text)); err == nil || !strings.Contains(err.Error(), in) {
			t.Errorf("%q: %v, want %q", text, err, in)
		}
	}
}
