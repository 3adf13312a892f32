package intake

import (
	"strings"
	"testing"
	"time"
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
		{`"weight"`, `"wieght"`, "f:5 loads[0].wieght: unknown key"},
		{`"tail_min": 120`, `"tail_min": 120, "tail_min": 1`, "f:5 loads[0].tail_min: given twice"},
		{`75.5`, `0`, "f:4 loads[0].process_min: 0: a number above 0 to 525600"},
		{`75.5`, `525601`, "f:4 loads[0].process_min: 525601"},
		{`75.5`, `"75"`, `f:4 loads[0].process_min: "75": a number above 0 to 525600 minutes, without quotes`},
		{`75.5`, `null`, "f:4 loads[0].process_min: null"},
		{`75.5`, `1e999`, "f:4 loads[0].process_min: 1e999"},
		{`75.5`, `NaN`, "f:4: "},
		{`"weight": 3`, `"weight": -1`, "f:5 loads[0].weight: -1"},
		{`"miss_cost": 500`, `"miss_cost": 1.1e9`, "f:6 loads[0].miss_cost"},
		{`"people": 2`, `"people": 0`, "f:8 crews.body.people: 0"},
		{`"people": 2`, `"people": 1.5`, "f:8 crews.body.people: 1.5"},
		{`"booths": ["B1"], "colour": "red"`, `"booths": ["B2"], "colour": "red"`, `f:4 loads[0].booths: "B2"`},
		{`"white": 40, "red": 5`, `"red": 5`, "f:3 setup_min.red.white: missing"},
		{`"id": "L2"`, `"id": "L1"`, `f:7 loads[1].id: "L1"`},
		{`"min_lag_min": 15`, `"after": ["T2"]`, "f:10 tasks[1].after: T1 before T2 before T1"},
		{`"load": "L2"`, `"load": "L9"`, `f:10 tasks[1].load: "L9"`},
		{`"start": "2026-03-02T07:30:00Z"`, `"start": "2026-03-02T07:30:00"`, "f:1 start: 2026-03-02T07:30:00"},
		{`"start": "2026-03-02T07:30:00Z"`, `"start": "2201-03-02T07:30:00Z"`, "f:1 start: 2201"},
		{`"2026-03-02T17:00:00Z"]`, `"2026-03-02T07:00:00Z"]`, "f:2 booths[0].open[0]"},
		{`"after": ["T1"]}]}`, `"after": ["T1"]}]} {}`, "f:10: more text"},
		{`"after": ["T1"]}]}`, `"after": ["T1"`, "f:10: "},
	} {
		text := strings.Replace(planText, c.old, c.new, 1)
		if text == planText {
			t.Fatalf("%q is not in the text", c.old)
		}
		_, err := ReadPlan(fuzzed, strings.NewReader(text))
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
