package console_test

import (
	"bytes"
	"context"
	"io"
	"strings"
	"testing"

	"seamwright/services/console"
	"seamwright/services/fault"
)

// A running shop is asked with per cent as the calculators are: with the sign
// or without, to the same answer.
func TestAShopIsAskedInPerCent(t *testing.T) {
	_, at, _ := shop(t)
	run(t, demo(at))
	ask := func(q interface {
		Run(ctx context.Context, o console.Out) error
	},
	) string {
		var b bytes.Buffer
		if err := q.Run(t.Context(), console.Out{W: &b, JSON: true}); err != nil {
			t.Fatalf("%+v: %v", q, err)
		}
		_, answer, _ := strings.Cut(b.String(), `"now"`)
		_, answer, _ = strings.Cut(answer, "\n") // the moment differs
		if len(answer) < 100 {
			t.Fatalf("%+v: %s", q, &b)
		}
		return answer
	}
	if plain, signed := ask(console.SealingRun{At: at, Bay: "bay-1", Waste: "7"}), ask(console.SealingRun{At: at, Bay: "bay-1", Waste: "7%"}); plain != signed {
		t.Errorf("waste of 7: %s\nof 7%%: %s", plain, signed)
	}
	if plain, signed := ask(console.Stock{At: at, Service: "0.98"}), ask(console.Stock{At: at, Service: "98 %"}); plain != signed {
		t.Errorf("service of 0.98: %s\nof 98 %%: %s", plain, signed)
	}
	for flag, q := range map[string]interface {
		Run(ctx context.Context, o console.Out) error
	}{
		"--service: 100%: a number from 0.5":        console.Stock{At: at, Service: "100%"},
		"--service: 98: a number from 0.5":          console.Stock{At: at, Service: "98"},
		"--waste-percent: 101%: a number from 0":    console.SealingRun{At: at, Bay: "bay-1", Waste: "101%"},
		"--purge-ml: 5%: a number from 0":           console.SealingRun{At: at, Bay: "bay-1", PurgeML: "5%"},
		"--purge-ml: 5,5: write 5.5, with a point;": console.SealingRun{At: at, Bay: "bay-1", PurgeML: "5,5"},
	} {
		if err := q.Run(t.Context(), console.Out{W: io.Discard}); err == nil || fault.KindOf(err) != fault.Invalid || !strings.HasPrefix(err.Error(), flag) {
			t.Errorf("%v, want %s", err, flag)
		}
	}
}
