package console

import (
	"os"
	"strconv"
	"strings"
	"testing"
	"time"
)

// A few shop-years, every fault and mistake that comes by in them: nothing is
// broken, missing or extra.
func TestShopYears(t *testing.T) {
	if testing.Short() {
		t.Skip("runs shops for years")
	}
	q := Soak{Years: 2, Seed: 1}
	if v := os.Getenv("SOAK_SEED"); v != "" {
		q.Seed, _ = strconv.ParseUint(v, 10, 64)
	}
	if v := os.Getenv("SOAK_YEARS"); v != "" {
		q.Years, _ = strconv.Atoi(v)
	}
	if v := os.Getenv("SOAK_PARALLEL"); v != "" {
		q.Parallel, _ = strconv.Atoi(v)
	}
	if v := os.Getenv("SOAK_DAYS"); v != "" {
		q.days, _ = strconv.Atoi(v)
	}
	if err := q.defaults(); err != nil {
		t.Fatal(err)
	}
	begun := time.Now()
	a := newSoakAnswer(q.Seed)
	err := q.all(t.Context(), a)
	t.Logf("took %s\n%s", time.Since(begun).Round(time.Second), strings.Join(a.Lines(), "\n"))
	if err != nil || !a.Sound {
		t.Errorf("violations %v, error %v", a.Violations, err)
	}
}
