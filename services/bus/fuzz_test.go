package bus_test

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"seamwright/services/bus"
	"seamwright/services/fault"
)

// Whatever comes over a gate's channel is refused on one line or is a beat
// that is written again as it was read; and one message alone is never CLEAR.
func FuzzBeat(f *testing.F) {
	good, err := cleared().Encode()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(good)
	for old, with := range map[string]string{
		`"CLEAR"`: `"HOLD"`, `"reasons":[]`: `"reasons":[{"name":"a","subject":"b","text":"c","until":"2026-03-02T10:00:00.5+05:30"}]`,
		`"beat":7`: `"beat":18446744073709551615`, `"sign"`: `"SIGN"`, "gate-A": `\ud800`,
	} {
		f.Add([]byte(strings.Replace(string(good), old, with, 1)))
	}
	f.Add([]byte(`{"reasons":[[[[[[]]]]]]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		j := bus.NewJudge("B1")
		j.Take(data, time.Second)
		if v := j.At(time.Second); v.Sign != bus.Hold || len(v.Reasons) == 0 {
			t.Fatalf("one message alone: %+v", v)
		}
		b, err := bus.DecodeBeat(data)
		if err != nil {
			if fault.KindOf(err) != fault.Invalid || strings.ContainsAny(err.Error(), "\r\n") {
				t.Fatalf("%v: %q, want an invalid fault on one line", fault.KindOf(err), err)
			}
			return
		}
		text, err := b.Encode()
		if err != nil {
			// A moment of a year that cannot be written, or a text that grows
			// beyond the limit by being escaped, is never sent on.
			return
		}
		back, err := bus.DecodeBeat(text)
		if b.Reasons == nil {
			b.Reasons = []bus.Reason{}
		}
		if d := cmp.Diff(b, back); err != nil || d != "" {
			t.Fatalf("it comes back changed: %v\n%s", err, d)
		}
	})
}
