package intake

import (
	"bytes"
	"encoding/json"
	"math"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"seamwright/services/calc/plan"
)

// FuzzPlan: whatever is read is refused in one line or can be planned.
func FuzzPlan(f *testing.F) {
	f.Add([]byte(planText))
	f.Add([]byte(`{"start":"1970-01-01T00:00:00Z","booths":[{"id":"B","colour":"w","open":[]}],"setup_min":{},"loads":[]}`))
	f.Add([]byte(`{"start":"2199-12-31T23:59:59.999999999Z","booths":[{"id":"B","colour":"w","open":[["1970-01-01T00:00:00Z","2199-12-31T00:00:00Z"]]}],"setup_min":{"w":{"w":525600}},"loads":[{"id":"a","booths":["B"],"colour":"w","process_min":1e-9,"due":"1970-01-01T00:00:00Z","weight":1e9}]}`))
	f.Add([]byte(`{"start":"2026-03-02T07:30:00Z","booths":[{"id":"A","colour":"w","open":[["2026-03-02T07:30:00Z","2026-03-02T12:00:00Z"],["2026-03-02T13:00:00Z","2026-03-02T17:00:00Z"]]},{"id":"B","colour":"r","open":[["2026-03-02T07:30:00Z","2026-03-02T17:00:00Z"]]}],"setup_min":{"w":{"w":0,"r":25},"r":{"w":40,"r":5}},"loads":[{"id":"1","booths":["A","B"],"colour":"r","process_min":70,"due":"2026-03-02T09:00:00Z","weight":2},{"id":"2","booths":["A"],"colour":"w","process_min":50,"latest_start":"2026-03-02T08:00:00Z","miss_cost":9},{"id":"3","booths":["B"],"colour":"w","process_min":300.5,"due":"2026-03-02T09:00:00Z"},{"id":"4","booths":["B","A"],"colour":"r","process_min":20,"frozen":{"booth":"A","start":"2026-03-02T10:00:00Z"}}]}`))
	f.Add([]byte(`[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[`))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, ok := checkPlan(t, data)
		if !ok {
			return
		}
		n := 200
		got, err := plan.Solve(p, plan.Options{Rounds: 1, More: func() bool { n--; return n > 0 }})
		if err != nil {
			t.Fatalf("read but refused: %v", err)
		}
		if len(got.Loads) != len(p.Loads) || !(got.Objective >= 0) || !(got.LowerBound <= got.Objective) {
			t.Fatalf("objective %g, bound %g", got.Objective, got.LowerBound)
		}
		stands(t, &p, &got)
	})
}

// stands sees by itself that loads stand in booths that may take them, in
// their order and with their setups, inside open intervals, and that lateness
// adds up. The package of the planner has an evaluator of everything.
func stands(t *testing.T, p *plan.Problem, got *plan.Plan) {
	end, colour := map[string]time.Time{}, map[string]string{}
	open := map[string][]plan.Interval{}
	for _, b := range p.Booths {
		end[b.ID], colour[b.ID], open[b.ID] = p.Start, b.Colour, b.Open
	}
	cost := 0.0
	for _, r := range got.Loads { // by booth and start
		l := &p.Loads[r.Index]
		if r.Missed {
			cost += l.MissCost
		}
		if !r.Placed() {
			continue
		}
		cost += l.Weight * r.LateMin
		if late := r.End.Add(l.Tail).Sub(l.Due).Minutes(); !l.Due.IsZero() && math.Abs(max(late, 0)-r.LateMin) > 1e-6*(1+math.Abs(late)) {
			t.Fatalf("%s: %g min late told, is %g", l.ID, r.LateMin, late)
		}
		inside := func(o plan.Interval) bool { return !r.Start.Before(o.From) && !r.End.After(o.To) }
		setup := p.Setups[colour[r.Booth]][l.Colour]
		switch {
		case !r.End.Equal(r.Start.Add(l.Process)):
			t.Fatalf("%s takes %s, told %s to %s", l.ID, l.Process, r.Start, r.End)
		case l.Frozen != nil:
			if r.Booth != l.Frozen.Booth || !r.Start.Equal(l.Frozen.Start) {
				t.Fatalf("frozen %s was moved", l.ID)
			}
		case !slices.Contains(l.Booths, r.Booth), !slices.ContainsFunc(open[r.Booth], inside), r.Start.Before(l.Release), r.Start.Before(end[r.Booth].Add(setup)):
			t.Fatalf("%s in %s at %s: free from %s and %s of setup", l.ID, r.Booth, r.Start, end[r.Booth], setup)
		}
		if r.End.After(p.Start) {
			end[r.Booth], colour[r.Booth] = r.End, l.Colour
		}
	}
	if math.Abs(cost-got.Objective) > 1e-6*(1+cost) {
		t.Fatalf("objective %g told, adds up to %g", got.Objective, cost)
	}
}

// checkPlan reads a plan problem and reports whether it was accepted.
func checkPlan(t *testing.T, data []byte) (plan.Problem, bool) {
	read := func(n string, b []byte) (plan.Problem, error) { return ReadPlan(n, bytes.NewReader(b)) }
	p, err := read(fuzzed, data)
	if err != nil {
		refused(t, err)
		return p, false
	}
	if err := p.Check(); err != nil {
		t.Fatalf("accepted, but %v", err)
	}
	got, err := read("again", problemJSON(t, p))
	if err != nil {
		t.Fatalf("what was accepted is refused when written again: %v", err)
	}
	// A number of minutes is read to the nanosecond; written as a fraction of
	// minutes it may come back one further.
	near := cmp.Comparer(func(a, b time.Duration) bool { return a-b <= 1 && b-a <= 1 })
	if d := cmp.Diff(p, got, near); d != "" {
		t.Fatalf("it comes back changed (-want +got)\n%s", d)
	}
	return p, true
}

// problemJSON writes a plan problem as its file.
func problemJSON(t *testing.T, p plan.Problem) []byte {
	t.Helper()
	m := map[string]any{"start": p.Start}
	booths, loads, tasks, crews, setups := []any{}, []any{}, []any{}, map[string]any{}, map[string]any{}
	for _, b := range p.Booths {
		booths = append(booths, map[string]any{"id": b.ID, "colour": b.Colour, "open": spans(b.Open)})
	}
	for from, row := range p.Setups {
		r := map[string]float64{}
		for to, d := range row {
			r[to] = d.Minutes()
		}
		setups[from] = r
	}
	for _, l := range p.Loads {
		o := map[string]any{
			"id": l.ID, "booths": l.Booths, "colour": l.Colour, "process_min": l.Process.Minutes(),
			"weight": l.Weight, "tail_min": l.Tail.Minutes(), "miss_cost": l.MissCost,
		}
		given(o, "release", l.Release)
		given(o, "latest_start", l.LatestStart)
		given(o, "due", l.Due)
		if l.Frozen != nil {
			o["frozen"] = map[string]any{"booth": l.Frozen.Booth, "start": l.Frozen.Start}
		}
		loads = append(loads, o)
	}
	for _, c := range p.Crews {
		o := map[string]any{"people": c.People}
		if !c.RoundTheClock {
			o["open"] = spans(c.Open)
		}
		crews[c.ID] = o
	}
	for _, k := range p.Tasks {
		o := map[string]any{"id": k.ID, "load": k.Load, "crew": k.Crew, "minutes": k.Length.Minutes(), "min_lag_min": k.MinLag.Minutes()}
		if k.HasMax {
			o["max_lag_min"] = k.MaxLag.Minutes()
		}
		if len(k.After) > 0 {
			o["after"] = k.After
		}
		given(o, "release", k.Release)
		tasks = append(tasks, o)
	}
	m["booths"], m["setup_min"], m["loads"], m["crews"], m["tasks"] = booths, setups, loads, crews, tasks
	out, err := json.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func given(o map[string]any, key string, at time.Time) {
	if !at.IsZero() {
		o[key] = at
	}
}

func spans(open []plan.Interval) [][2]time.Time {
	out := [][2]time.Time{}
	for _, o := range open {
		out = append(out, [2]time.Time{o.From, o.To})
	}
	return out
}

func FuzzPlanAnswer(f *testing.F) {
	f.Add([]byte(answerText))
	f.Fuzz(func(t *testing.T, data []byte) { checkPlanAnswer(t, data) })
}

const answerText = `{"objective":1,"lower_bound":1,"optimal":true,"loads":[{"id":"a","booth":"B","setup_start":null,"start":"2026-03-02T07:30:00Z","end":null,"late_min":0,"missed":false,"why":""}],"tasks":[],"changes":[]}`

func checkPlanAnswer(t *testing.T, data []byte) {
	read := func(n string, b []byte) (plan.Plan, error) { return ReadPlanAnswer(n, bytes.NewReader(b)) }
	p, err := read(fuzzed, data)
	if err != nil {
		refused(t, err)
		return
	}
	loads := []any{}
	ids := map[string]bool{}
	for _, l := range p.Loads {
		if l.ID == "" || ids[l.ID] || l.Placed() == l.Start.IsZero() {
			t.Fatalf("accepted %+v", l)
		}
		ids[l.ID] = true
		o := map[string]any{"id": l.ID, "booth": nil, "start": nil}
		if l.Placed() {
			o["booth"], o["start"] = l.Booth, l.Start
		}
		loads = append(loads, o)
	}
	text, err := json.Marshal(map[string]any{"loads": loads})
	if err != nil {
		t.Fatal(err)
	}
	same(t, read, text, p)
}
