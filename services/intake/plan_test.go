package intake

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"seamwright/services/calc/plan"
)

const planText = `{"start": "2026-03-02T07:30:00Z",
 "booths": [{"id": "B1", "colour": "white", "open": [["2026-03-02T07:30:00Z", "2026-03-02T17:00:00Z"]]}],
 "setup_min": {"white": {"white": 0, "red": 25}, "red": {"white": 40, "red": 5}},
 "loads": [{"id": "L1", "booths": ["B1"], "colour": "red", "process_min": 75.5, "release": "2026-03-02T10:00:00+02:00",
            "latest_start": "2026-03-02T13:00:00Z", "due": "2026-03-02T15:00:00Z", "weight": 3, "tail_min": 120,
            "miss_cost": 500, "frozen": {"booth": "B1", "start": "2026-03-02T08:05:00Z"}},
           {"id": "L2", "booths": ["B1"], "colour": "white", "process_min": 30}],
 "crews": {"body": {"people": 2, "open": [["2026-03-02T07:30:00Z", "2026-03-02T16:00:00Z"]]}, "night": {"people": 1}},
 "tasks": [{"id": "T1", "load": "L1", "crew": "body", "minutes": 20, "min_lag_min": 15, "max_lag_min": 240, "release": "2026-03-02T07:30:00Z"},
           {"id": "T2", "load": "L2", "crew": "night", "minutes": 20, "after": ["T1"]}]}`

func TestReadPlan(t *testing.T) {
	p, err := ReadPlan("p.json", strings.NewReader("\ufeff"+strings.ReplaceAll(planText, "\n", "\r\n")))
	if err != nil {
		t.Fatal(err)
	}
	at := func(h, m int) time.Time { return time.Date(2026, 3, 2, h, m, 0, 0, time.UTC) }
	l, m := p.Loads[0], p.Loads[1]
	switch {
	case !p.Start.Equal(at(7, 30)), p.Setups["red"]["white"] != 40*time.Minute, !p.Booths[0].Open[0].To.Equal(at(17, 0)):
		t.Errorf("%+v", p)
	case l.Process != 75*time.Minute+30*time.Second, !l.Release.Equal(at(8, 0)), l.Weight != 3, l.Tail != 2*time.Hour, l.MissCost != 500, !l.Frozen.Start.Equal(at(8, 5)):
		t.Errorf("%+v", l)
	case m.Weight != 1 || m.Frozen != nil || !m.Due.IsZero() || !m.LatestStart.IsZero():
		t.Errorf("what is absent: %+v", m)
	case p.Crews[0].RoundTheClock, !p.Crews[1].RoundTheClock, !p.Tasks[0].HasMax, p.Tasks[0].MaxLag != 4*time.Hour, p.Tasks[1].HasMax, p.Tasks[1].After[0] != "T1":
		t.Errorf("%+v %+v", p.Crews, p.Tasks)
	}
}

// Each mistake is told in one line that begins with the file, the line and
// the field.
func TestReadPlanRefuses(t *testing.T) {
	for _, c := range []struct{ old, new, want string }{
		{`"weight"`, `"wieght"`, "p:5 loads[0].wieght: unknown key"},
		{`"tail_min": 120`, `"tail_min": 120, "tail_min": 1`, "p:5 loads[0].tail_min: given twice"},
		{`75.5`, `0`, "p:4 loads[0].process_min: 0: a number above 0 to 525600"},
		{`75.5`, `525601`, "p:4 loads[0].process_min: 525601"},
		{`75.5`, `"75"`, "p:4 loads[0].process_min: 75: a number"},
		{`75.5`, `null`, "p:4 loads[0].process_min: null"},
		{`75.5`, `1e999`, "p:4 loads[0].process_min: 1e999"},
		{`75.5`, `NaN`, "p:4: "},
		{`"weight": 3`, `"weight": -1`, "p:5 loads[0].weight: -1"},
		{`"miss_cost": 500`, `"miss_cost": 1.1e9`, "p:6 loads[0].miss_cost"},
		{`"people": 2`, `"people": 0`, "p:8 crews.body.people: 0"},
		{`"people": 2`, `"people": 1.5`, "p:8 crews.body.people: 1.5"},
		{`"booths": ["B1"], "colour": "red"`, `"booths": ["B2"], "colour": "red"`, `p:4 loads[0].booths: "B2"`},
		{`"white": 40, "red": 5`, `"red": 5`, "p:3 setup_min.red.white: missing"},
		{`"id": "L2"`, `"id": "L1"`, `p:7 loads[1].id: "L1"`},
		{`"min_lag_min": 15`, `"after": ["T2"]`, "p:10 tasks[1].after: T1 before T2 before T1"},
		{`"load": "L2"`, `"load": "L9"`, `p:10 tasks[1].load: "L9"`},
		{`"start": "2026-03-02T07:30:00Z"`, `"start": "2026-03-02T07:30:00"`, "p:1 start: 2026-03-02T07:30:00"},
		{`"start": "2026-03-02T07:30:00Z"`, `"start": "2201-03-02T07:30:00Z"`, "p:1 start: 2201"},
		{`"2026-03-02T17:00:00Z"]`, `"2026-03-02T07:00:00Z"]`, "p:2 booths[0].open[0]"},
		{`"after": ["T1"]}]}`, `"after": ["T1"]}]} {}`, "p:10: more text"},
		{`"after": ["T1"]}]}`, `"after": ["T1"`, "p:10: "},
	} {
		text := strings.Replace(planText, c.old, c.new, 1)
		if text == planText {
			t.Fatalf("%q is not in the text", c.old)
		}
		_, err := ReadPlan("p", strings.NewReader(text))
		if err == nil {
			t.Errorf("%q is accepted", c.new)
			continue
		}
		refused(t, err)
		if !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%q: %q, want %q", c.new, err, c.want)
		}
	}
}

// FuzzPlan: whatever is read is refused in one line or can be planned.
func FuzzPlan(f *testing.F) {
	f.Add([]byte(planText))
	f.Add([]byte(`{"start":"1970-01-01T00:00:00Z","booths":[{"id":"B","colour":"w","open":[]}],"setup_min":{},"loads":[]}`))
	f.Add([]byte(`{"start":"2199-12-31T23:59:59.999999999Z","booths":[{"id":"B","colour":"w","open":[["1970-01-01T00:00:00Z","2199-12-31T00:00:00Z"]]}],"setup_min":{"w":{"w":525600}},"loads":[{"id":"a","booths":["B"],"colour":"w","process_min":1e-9,"due":"1970-01-01T00:00:00Z","weight":1e9}]}`))
	f.Add([]byte(`[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[`))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := ReadPlan("f", bytes.NewReader(data))
		if err != nil {
			refused(t, err)
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
	})
}

func FuzzPlanAnswer(f *testing.F) {
	f.Add([]byte(`{"objective":1,"lower_bound":1,"optimal":true,"loads":[{"id":"a","booth":"B","setup_start":null,"start":"2026-03-02T07:30:00Z","end":null,"late_min":0,"missed":false,"why":""}],"tasks":[],"changes":[]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := ReadPlanAnswer("f", bytes.NewReader(data))
		if err != nil {
			refused(t, err)
			return
		}
		for _, l := range p.Loads {
			if l.ID == "" || l.Placed() == l.Start.IsZero() {
				t.Fatalf("accepted %s", fmt.Sprint(l))
			}
		}
	})
}
