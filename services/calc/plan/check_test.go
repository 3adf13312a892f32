package plan

import (
	"testing"
	"time"
)

// TestRefusalsSayWhatToDo: each names the value, what it belongs to, the limit
// with what there is, and where it helps what to write.
func TestRefusalsSayWhatToDo(t *testing.T) {
	sound := func() Problem {
		p := workDay([]Interval{{morning, hour(12, 0)}}, []Load{{ID: "K"}, {ID: "L", Colour: "red"}}, Task{ID: "T1", Load: "K"}, Task{ID: "T2", Load: "L"})
		p.Booths = append(p.Booths, Booth{ID: "B2", Colour: "red"})
		return p
	}
	p := sound()
	if err := p.Check(); err != nil {
		t.Fatal(err)
	}
	for want, spoil := range map[string]func(p *Problem){
		`loads[1].booths: "B9": one of the booths of this problem: B1, B2, for load "L"`:                          func(p *Problem) { p.Loads[1].Booths = []string{"B9"} },
		`loads[1].booths: none: the booths that may take load "L", at least one`:                                  func(p *Problem) { p.Loads[1].Booths = nil },
		`loads[1].id: "K": an identifier of its own; loads[0] has this one`:                                       func(p *Problem) { p.Loads[1].ID = "K" },
		`booths[1].id: "B1": an identifier of its own; booths[0] has this one`:                                    func(p *Problem) { p.Booths[1].ID = "B1" },
		`tasks[1].id: "T1": an identifier of its own; tasks[0] has this one`:                                      func(p *Problem) { p.Tasks[1].ID = "T1" },
		`tasks[1].load: "M": one of the loads of this problem: K, L, for task "T2"`:                               func(p *Problem) { p.Tasks[1].Load = "M" },
		`tasks[0].crew: "prep": one of the crews of this problem: body, for task "T1"`:                            func(p *Problem) { p.Tasks[0].Crew = "prep" },
		`tasks[0].crew: "body": one of the crews of this problem, which has none; add it to crews, for task "T1"`: func(p *Problem) { p.Crews = nil },
		`tasks[1].after: "T9": one of the tasks of this problem: T1, T2, for task "T2"`:                           func(p *Problem) { p.Tasks[1].After = []string{"T9"} },
		`loads[0].frozen.booth: "B2": one of the booths that may take load "K": B1`:                               func(p *Problem) { p.Loads[0].Frozen = &Frozen{"B2", hour(9, 0)} },
		`booths[0].open[0]: 2026-03-02T07:00:00Z: an end after its begin, 2026-03-02T07:30:00Z; the earlier time stands first`: func(p *Problem) {
			p.Booths[0].Open[0].To = hour(7, 0)
		},
		`crews.body.open[1]: 2026-03-02T12:00:00Z: a begin after the end of the one before, 2026-03-02T12:00:00Z; join or order them`: func(p *Problem) {
			p.Crews[0].Open = append(p.Crews[0].Open, Interval{hour(12, 0), hour(13, 0)})
		},
		`setup_min.red.white: missing: the minutes of setup from "red" to "white", for load "K" in booth "B1" behind load "L"; write "setup_min": {"red": {"white": 20}} if it takes 20`: func(p *Problem) {
			p.Setups = map[string]map[string]time.Duration{"white": {"white": 0, "red": 0}, "red": {"red": 0}}
		},
		`setup_min.white.white: missing: the minutes of setup from "white" to "white", for load "K" in booth "B1" when it comes first; write "setup_min": {"white": {"white": 20}} if it takes 20, and so for "red" to "white", "white" to "red"`: func(p *Problem) {
			p.Setups = map[string]map[string]time.Duration{"red": {"red": 0}}
		},
	} {
		p := sound()
		spoil(&p)
		if err := p.Check(); err == nil || err.Error() != want {
			t.Errorf("%v\nwant %s", err, want)
		}
	}
}
