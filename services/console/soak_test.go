package console

import (
	"bytes"
	"context"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"seamwright/services/fault"
	"seamwright/services/sim"
)

// fromEnv lets a soak be set from outside: SOAK_SEED, SOAK_YEARS, SOAK_DAYS
// (of each shop) and SOAK_PARALLEL.
func fromEnv(t *testing.T, q Soak) Soak {
	t.Helper()
	set := func(name string, n *int) {
		v := os.Getenv(name)
		if v == "" {
			return
		}
		x, err := strconv.Atoi(v)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		*n = x
	}
	seed := int(q.Seed)
	set("SOAK_SEED", &seed)
	set("SOAK_YEARS", &q.Years)
	set("SOAK_DAYS", &q.days)
	set("SOAK_PARALLEL", &q.Parallel)
	q.Seed = uint64(seed)
	if err := q.defaults(); err != nil {
		t.Fatal(err)
	}
	return q
}

// spareForOthers is what the longest shop and the tests behind it may take.
const spareForOthers = 4 * time.Minute

// Shops over years, with every fault and mistake that comes by in them:
// nothing is broken, missing or extra. The command runs more of them.
func TestShopYears(t *testing.T) {
	if testing.Short() {
		t.Skip("runs shops for years")
	}
	q := fromEnv(t, Soak{Years: defaultYears, Seed: 1})
	begun := time.Now()
	if end, limited := t.Deadline(); limited { // on a slow machine the tests behind this one want their time as well
		q.enough = func() bool { return time.Until(end) < spareForOthers }
	}
	a := newSoakAnswer(q.Seed)
	err := q.all(t.Context(), a)
	if a.Years < q.Years && a.Sound {
		t.Logf("CUT SHORT: %d of %d years fitted into the time that go test gives; -timeout 0 runs them all", a.Years, q.Years)
	}
	t.Logf("took %s\n%s", time.Since(begun).Round(time.Second), strings.Join(a.Lines(), "\n"))
	if err != nil || !a.Sound {
		t.Errorf("violations %v, error %v", a.Violations, err)
	}
}

// The same seed is the same shop, machine faults and all: what is wrong can
// be shown again.
func TestASeedIsOneShopYear(t *testing.T) {
	if testing.Short() {
		t.Skip("runs a shop twice")
	}
	run := func(seed uint64) []string {
		q := Soak{Years: 1, Seed: seed, Parallel: 1, days: 45}
		a := newSoakAnswer(seed)
		if err := q.all(t.Context(), a); err != nil || !a.Sound {
			t.Fatalf("%v\n%s", err, strings.Join(a.Lines(), "\n"))
		}
		return a.Lines()
	}
	first := run(5)
	if diff := cmp.Diff(first, run(5)); diff != "" {
		t.Errorf("the same seed twice (-first +second):\n%s", diff)
	}
	if slices.Equal(first, run(6)) {
		t.Error("two seeds are one shop")
	}
}

// What is wrong is told with the command that shows it again, the shop of the
// least seed first.
func TestAViolationIsToldWithItsReplay(t *testing.T) {
	a := newSoakAnswer(7)
	a.add(&sim.Report{Seed: 9, Violations: []sim.Violation{{Seed: 9, When: "day 3 10:00:00", What: "I2", Text: "late"}}, Log: []string{"nine"}}, 1)
	a.add(&sim.Report{Seed: 8, Violations: []sim.Violation{{Seed: 8, When: "day 2 10:00:00", What: "I6", Text: "twice"}}, Log: []string{"eight"}}, 2)
	a.add(&sim.Report{Seed: 7, Planted: map[string]int{"restart": 3}}, 1)
	a.close()
	got := strings.Join(a.Lines(), "\n")
	for _, want := range []string{
		"3 shops, 1 year, seeds from 7", "restart", "  eight\nI6 broken, seed 8, day 2 10:00:00: twice\nI2 broken, seed 9", "again with: seamwright soak --years 1 --seed 8",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is missing in:\n%s", want, got)
		}
	}
}

// A soak that was stopped has no answer.
func TestASoakThatWasStopped(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	stop()
	var out bytes.Buffer
	if err := (Soak{Years: 1}).Run(ctx, Out{W: &out}); fault.KindOf(err) != fault.Cancelled || out.Len() > 0 {
		t.Errorf("error %v, told %q", err, out.String())
	}
}

// soon is a context that ends when it was asked so often whether it has.
type soon struct {
	context.Context
	left *atomic.Int64
}

func (c soon) Err() error {
	if c.left.Add(-1) < 0 {
		return context.Canceled
	}
	return nil
}

// A shop that was stopped in the middle is no broken one: no command is told
// that would show something again.
func TestAShopThatWasStoppedIsNotBroken(t *testing.T) {
	left := &atomic.Int64{}
	left.Store(2000)
	var progress bytes.Buffer
	a := newSoakAnswer(1)
	err := (&Soak{Years: 1, Seed: 1, Parallel: 1, days: 30, Progress: &progress}).all(soon{t.Context(), left}, a)
	if fault.KindOf(err) != fault.Cancelled || strings.Contains(err.Error(), "again with") {
		t.Errorf("stopped in the middle of a shop: %v", err)
	}
	where := regexp.MustCompile(`^the soak was stopped: 0 of 1 years done, without a violation; shop 1 was in year 1, on day [1-9][0-9]* \(20[0-9-]{8}\)$`)
	if !where.MatchString(err.Error()) || a.Years != 0 || a.Shops != 0 || progress.Len() > 0 {
		t.Errorf("%q, %d years of %d shops done, told %q", err, a.Years, a.Shops, progress.String())
	}
	if _, status := Explain(err); status == ExitOK {
		t.Error("exit status 0")
	}
}

// What was found before the stop is told all the same.
func TestAViolationOutlivesAStop(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	stop()
	a := newSoakAnswer(1)
	a.add(&sim.Report{Seed: 1, Violations: []sim.Violation{{Seed: 1, When: "day 3 10:00:00", What: "I2", Text: "late"}}}, 1)
	if err := (&Soak{Years: 2, Seed: 2, Parallel: 1}).all(ctx, a); err != nil || a.Replay == "" {
		t.Errorf("error %v, again with %q", err, a.Replay)
	}
}

// A shop's years depend on its seed alone, and most run one.
func TestSomeShopsRunOn(t *testing.T) {
	n := map[int]int{}
	for seed := uint64(1); seed <= 160; seed++ {
		n[yearsOf(seed)]++
	}
	if diff := cmp.Diff(map[int]int{1: 130, 2: 20, 3: 10}, n); diff != "" {
		t.Errorf("shops by years (-want +got):\n%s", diff)
	}
}
