package cure

import (
	"math"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// still is a zone that never drifts, with exact probes: cold, hot and nominal
// are one.
func still() Zone {
	z := bay()
	z.ProbeErrorC, z.DriftPerMin = 0, 0
	return z
}

func plainLaw() Law { return must(NewLaw(52e3, 20)) }

func TestKeeperTellsAClockAtItsTime(t *testing.T) {
	c := courseOf(t, still(), [2]float64{0, 20})
	k := NewKeeper[string](c)
	if err := k.Begin("opens", plainLaw(), Cold, minute(1), 600); err != nil {
		t.Fatal(err)
	}
	due, ok := k.NextDue(minute(2))
	if want := (Fallen[string]{ID: "opens", Side: Cold, At: minute(11)}); !ok || !cmp.Equal(due, want) {
		t.Errorf("next due %v, want %v", due, want)
	}
	if ch := k.Advance(minute(10.9)); ch.Fallen != nil {
		t.Errorf("due early: %v", ch)
	}
	want := []Fallen[string]{{ID: "opens", Side: Cold, At: minute(11)}}
	if diff := cmp.Diff(want, k.Advance(minute(11)).Fallen); diff != "" {
		t.Errorf("at its time: %s", diff)
	}
	if ch := k.Advance(minute(12)); ch.Fallen != nil {
		t.Errorf("told twice: %v", ch)
	}
	if _, ok := k.NextDue(minute(12)); ok {
		t.Error("a next due time without a clock")
	}
	if !k.Cancel("opens") || k.Cancel("opens") || k.Len() != 0 {
		t.Error("a cancelled clock is still known")
	}
}

func TestKeeperKeepsAHotClockUntilAReadingSettlesIt(t *testing.T) {
	c := courseOf(t, bay(), [2]float64{0, 20})
	k := NewKeeper[string](c)
	if err := k.Begin("gel", plainLaw(), Hot, minute(0), 600); err != nil {
		t.Fatal(err)
	}
	due, ok := k.NextDue(t0)
	if !ok || !due.At.Before(minute(10)) {
		t.Fatalf("along the upper edge the gel comes before ten minutes, not %v", due)
	}
	if ch := k.Advance(minute(10)); ch.Fallen != nil {
		t.Errorf("settled without a reading: %v", ch)
	}
	may := k.Maybe(minute(10))
	if len(may) != 1 || may[0].ID != "gel" || may[0].Settled || may[0].At.Sub(due.At).Abs() > time.Microsecond {
		t.Errorf("maybe %v, want gel at %v", may, due.At)
	}
	if may := k.Maybe(due.At.Add(-time.Second)); may != nil {
		t.Errorf("maybe too early: %v", may)
	}
	// A reading before that time leaves the question open and moves it out.
	must(c.Append(Reading{At: minute(8), C: 20}))
	if ch := k.Advance(minute(8)); ch.Fallen != nil {
		t.Errorf("settled too early: %v", ch)
	}
	later, _ := k.NextDue(minute(8))
	if !later.At.After(due.At) {
		t.Errorf("a plausible reading must not bring the gel closer: %v, was %v", later.At, due.At)
	}
	must(c.Append(Reading{At: minute(11), C: 20}))
	ch := k.Advance(minute(11))
	if len(ch.Fallen) != 1 || !ch.Fallen[0].Settled || ch.Fallen[0].At.Before(later.At) {
		t.Errorf("after the reading %v, want gel settled not before %v", ch, later.At)
	}
}

func TestKeeperRetractsAfterALateReading(t *testing.T) {
	l := must(plainLaw().WithMinTemp(15))
	c := courseOf(t, still(), [2]float64{0, 20})
	k := NewKeeper[int](c)
	for id, amount := range []float64{300, 1200, 0} {
		if err := k.Begin(id, l, Cold, t0, amount); err != nil {
			t.Fatal(err)
		}
	}
	if got := k.Advance(minute(20)).Fallen; len(got) != 3 {
		t.Fatalf("due %v, want three", got)
	}
	// It had been 10 °C from the tenth minute on: with no drift allowed this
	// is a jump, and the cold edge is down at 10 from the first reading.
	must(c.Insert(Reading{At: minute(10), C: 10}))
	// Another question in between must not lose the retraction.
	k.NextDue(minute(20))
	ch := k.Advance(minute(20))
	if diff := cmp.Diff(Change[int]{Retracted: []int{0, 1}}, ch); diff != "" {
		t.Errorf("change: %s", diff)
	}
	// Withdrawn again: both come back, at their old times.
	must(c.Remove(minute(10)))
	want := []Fallen[int]{
		{ID: 0, Side: Cold, At: minute(5)},
		{ID: 1, Side: Cold, At: minute(20)},
	}
	if diff := cmp.Diff(want, k.Advance(minute(20)).Fallen); diff != "" {
		t.Errorf("after withdrawal: %s", diff)
	}
}

func TestKeeperRetractsAfterAJump(t *testing.T) {
	l := must(plainLaw().WithMinTemp(15))
	c := courseOf(t, bay(), [2]float64{0, 20})
	k := NewKeeper[int](c)
	if err := k.Begin(1, l, Cold, t0, 60); err != nil {
		t.Fatal(err)
	}
	if got := k.Advance(minute(3)).Fallen; len(got) != 1 || got[0].Settled {
		t.Fatalf("due %v, want one along the cone", got)
	}
	must(c.Append(Reading{At: minute(4), C: 10}))
	if diff := cmp.Diff(Change[int]{Retracted: []int{1}}, k.Advance(minute(4))); diff != "" {
		t.Errorf("change: %s", diff)
	}
}

func TestKeeperRefusesWhatIsNoClock(t *testing.T) {
	k := NewKeeper[int](courseOf(t, bay()))
	l := plainLaw()
	for what, err := range map[string]error{
		"nominal":    k.Begin(1, l, Nominal, t0, 1),
		"negative":   k.Begin(1, l, Cold, t0, -1),
		"NaN":        k.Begin(1, l, Cold, t0, math.NaN()),
		"no law":     k.Begin(1, Law{}, Cold, t0, 1),
		"first":      k.Begin(2, l, Hot, t0, 1),
		"repetition": k.Begin(2, l, Hot, t0, 1),
	} {
		if (err == nil) != (what == "first") {
			// Map values are made in no set order, so one of the two equal
			// beginnings fails and the other does not.
			if what == "repetition" {
				continue
			}
			t.Errorf("%s: error %v", what, err)
		}
	}
	if k.Len() != 1 {
		t.Errorf("%d clocks, want one", k.Len())
	}
}

// model is a keeper's clocks judged one by one.
type model struct {
	law    Law
	side   Side
	from   time.Time
	amount float64
}

func (m model) due(c *Course, at time.Time) (is, near bool) {
	v := c.View(at)
	age, _ := v.Age(m.law, Cold, m.from, at)
	if m.side == Hot {
		age = v.Settled(m.law, m.from, at)
	}
	return !m.from.After(at) && enough(age, m.amount), math.Abs(age-m.amount) < 1e-6+1e-8*m.amount
}

func TestKeeperAgreesWithPlainEvaluation(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c := must(NewCourse(drawZone(rt)))
		laws := []Law{drawLaw(rt), drawLaw(rt)}
		k := NewKeeper[int](c)
		clocks := map[int]model{}
		due := map[int]bool{}
		now := t0
		temp := 20.0
		for step := range rapid.IntRange(1, 40).Draw(rt, "steps") {
			now = now.Add(time.Duration(rapid.IntRange(1, 600).Draw(rt, "pass")) * time.Second)
			switch rapid.IntRange(0, 6).Draw(rt, "do") {
			case 0, 1:
				m := model{
					rapid.SampledFrom(laws).Draw(rt, "law"), rapid.SampledFrom([]Side{Cold, Hot}).Draw(rt, "side"),
					now.Add(-time.Duration(rapid.IntRange(0, 1200).Draw(rt, "ago")) * time.Second),
					float64(rapid.IntRange(0, 3000).Draw(rt, "amount")),
				}
				if err := k.Begin(step, m.law, m.side, m.from, m.amount); err != nil {
					rt.Fatal(err)
				}
				clocks[step] = m
			case 2, 3, 4:
				temp += float64(rapid.IntRange(-30, 30).Draw(rt, "change")) / 10
				must(c.Append(Reading{At: now, C: temp}))
			case 5:
				late := now.Add(-time.Duration(rapid.IntRange(1, 3000).Draw(rt, "late")) * time.Second)
				if _, taken := c.find(late); !taken {
					must(c.Insert(Reading{At: late, C: temp + float64(rapid.IntRange(-50, 50).Draw(rt, "off"))/10}))
				}
			case 6:
				for id := range clocks {
					if id%3 == 0 {
						k.Cancel(id)
						delete(clocks, id)
						delete(due, id)
					}
				}
			}
			if rapid.Bool().Draw(rt, "look") {
				k.NextDue(now)
				k.Maybe(now)
			}
			checkAdvance(rt, k, c, clocks, due, now)
		}
	})
}

// checkAdvance compares what the keeper tells, all in all, with the model.
func checkAdvance(t *rapid.T, k *Keeper[int], c *Course, clocks map[int]model, due map[int]bool, now time.Time) {
	ch := k.Advance(now)
	for _, f := range ch.Fallen {
		if due[f.ID] {
			t.Fatalf("clock %d told twice", f.ID)
		}
		due[f.ID] = true
		m := clocks[f.ID]
		if at, ok := c.View(now).Passed(m.law, m.side, m.from, m.amount, now); !ok || at.Sub(f.At).Abs() > time.Microsecond {
			t.Fatalf("clock %d told at %v, passed at %v (%v)", f.ID, f.At, at, ok)
		}
	}
	for _, id := range ch.Retracted {
		delete(due, id)
	}
	may := map[int]bool{}
	for _, f := range k.Maybe(now) {
		may[f.ID] = true
	}
	for id, m := range clocks {
		is, close := m.due(c, now)
		if is != due[id] && !close {
			t.Fatalf("clock %d %+v: keeper says %v, plain evaluation %v", id, m, due[id], is)
		}
		if m.side == Hot && !due[id] && !close {
			hot, _ := c.View(now).Age(m.law, Hot, m.from, now)
			if enough(hot, m.amount) != may[id] && math.Abs(hot-m.amount) > 1e-6+1e-8*m.amount {
				t.Fatalf("clock %d: maybe %v, hot age %v of %v", id, may[id], hot, m.amount)
			}
		}
	}
	if next, ok := k.NextDue(now); ok {
		m := clocks[next.ID]
		age, _ := c.View(now).Age(m.law, m.side, m.from, next.At)
		if next.At.Before(now) || math.Abs(age-m.amount) > 1e-6+1e-8*m.amount {
			t.Fatalf("next due %v: its age then is %v of %v", next, age, m.amount)
		}
	}
}

func TestHeapOrdersAnyKeys(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var ln lane[int]
		keys := rapid.SliceOfN(rapid.Float64Range(-10, 10), 1, 60).Draw(rt, "keys")
		for i, key := range keys {
			ln.push(&entry[int]{id: i, key: key, open: -1})
		}
		i := rapid.IntRange(0, len(keys)-1).Draw(rt, "changed")
		ln.heap[i].key = rapid.Float64Range(-10, 10).Draw(rt, "key")
		ln.fix(i)
		drop := ln.heap[rapid.IntRange(0, len(keys)-1).Draw(rt, "dropped")]
		ln.take(drop)
		var got, want []float64
		for _, e := range ln.heap {
			want = append(want, e.key)
		}
		for len(ln.heap) > 0 {
			got = append(got, ln.pop().key)
		}
		slices.Sort(want)
		if diff := cmp.Diff(want, got); diff != "" {
			rt.Fatal(diff)
		}
	})
}
