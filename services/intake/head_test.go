package intake

import (
	"strings"
	"testing"
)

// What is wrong with a header is said once, whatever the number of columns.
func TestAHeaderIsFaultedOnce(t *testing.T) {
	for _, c := range []struct{ head, want string }{
		{"time,temp_c,rh_percent,surface_c", "f:1: no column ro, vehicle, seam, panel, place, finish: these are required, and the header has time, temp_c, rh_percent, surface_c; "},
		{"ro,vehicle,seam,panel,place,finish,width,height", "f:1 width, height: unknown columns: columns are ro, "},
		{"ro,vehicle,seam,panel", "f:1 place, finish: missing columns: required; "},
		{"ro,vehicle,seam,panel,place,finsh", "f:1 finsh: unknown column: columns are ro, "},
	} {
		_, err := ReadSurvey("f", strings.NewReader(c.head+"\n"))
		if err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%s:\n%v\nwant %s", c.head, err, c.want)
			continue
		}
		if n := strings.Count(err.Error(), "orientation"); n > 1 {
			t.Errorf("%s: the columns are listed %d times", c.head, n)
		}
	}
}

// One thing's own file cannot be split; a table can be told in parts.
func TestAFileThatIsTooLongIsToldWhatHelps(t *testing.T) {
	_, err := ReadZone("z.yaml", strings.NewReader(strings.Repeat("#", MaxYAMLBytes+1)))
	if err == nil || !strings.Contains(err.Error(), "see that it is the one that was meant") || strings.Contains(err.Error(), "split") {
		t.Errorf("%v", err)
	}
	_, err = ReadReadings("r.csv", strings.NewReader(strings.Repeat("#", MaxBytes+1)))
	if err == nil || !strings.Contains(err.Error(), "tell it in parts") {
		t.Errorf("%v", err)
	}
}
