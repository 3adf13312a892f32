package console_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"seamwright/services/console"
)

// A trace that the shop would not take is refused before anything of the import
// is stored, be it another file's.
func TestReadingsThatAreNotTakenStoreNothing(t *testing.T) {
	a, at, clock := shop(t)
	run(t, console.Import{At: at, Zones: filepath.Join("..", "..", "testdata", "shop", "zones")})
	now := clock.Now().UTC()
	row := func(at time.Time) string { return fmt.Sprintf("%s,20.5,,\n", at.Format(time.RFC3339)) }
	good := "time,temp_c,rh_percent,surface_c\n" + row(now.Add(-10*time.Minute))
	for name, c := range map[string]struct{ file, text, says string }{
		"too old":      {"bay-2.csv", good + row(now.AddDate(0, 0, -91)), "readings of bay-2: " + now.AddDate(0, 0, -91).Format(time.RFC3339) + ": readings are taken up to 90 days back: leave those before "},
		"not yet":      {"bay-2.csv", good + row(now.Add(time.Hour)), "readings of bay-2: " + now.Add(time.Hour).Format(time.RFC3339) + ": not after "},
		"unknown zone": {"bay-9.csv", good, `readings of bay-9: zone "bay-9" is not known`},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			for file, text := range map[string]string{"bay-1.csv": good, c.file: c.text} {
				if err := os.WriteFile(filepath.Join(dir, file), []byte(text), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			before := hash(a)
			q := console.Import{At: at, Products: filepath.Join("..", "..", "testdata", "shop", "products"), Readings: dir}
			err := q.Run(t.Context(), console.Out{W: os.Stdout})
			if err == nil || !strings.Contains(err.Error(), c.says) || !strings.Contains(err.Error(), "nothing was stored") {
				t.Errorf("%v, want %q", err, c.says)
			}
			if hash(a) != before {
				t.Error("something was stored")
			}
		})
	}
}
