package plan

import (
	"fmt"
	"time"
)

// monday is where the tests' plans start.
var monday = time.Date(2026, 3, 2, 7, 30, 0, 0, time.UTC)

// grain of the random problems: everything is a multiple of it.
const grain = 15 * time.Minute

// mix says what a random problem may have.
type mix struct {
	loads, tasks, booths int
	slots                int // of a calendar, in grains
	long                 int // most of a load, in grains
	frozen, windows      bool
	waits                bool
	tightCalendar        bool
}

func randomProblem(d *dice, x mix) Problem {
	at := func(k int) time.Time { return monday.Add(time.Duration(k) * grain) }
	some := func(n int) time.Duration { return time.Duration(d.below(n)) * grain }
	p := Problem{Start: monday, Setups: map[string]map[string]time.Duration{}}
	colours := []string{"white", "red", "blue"}
	for _, a := range colours {
		p.Setups[a] = map[string]time.Duration{}
		for _, b := range colours {
			if p.Setups[a][b] = some(4); a == b {
				p.Setups[a][b] = some(2)
			}
		}
	}
	for b := range x.booths {
		p.Booths = append(p.Booths, Booth{ID: fmt.Sprintf("B%d", b), Colour: colours[d.below(3)], Open: randomOpen(d, x, at)})
	}
	for j := range x.loads {
		l := Load{
			ID: fmt.Sprintf("L%d", j), Colour: colours[d.below(3)], Process: grain + some(x.long), Weight: float64(d.below(5)),
			Release: at(d.below(x.slots/3+1) - 2), Tail: some(3),
		}
		for _, b := range p.Booths {
			if d.below(3) > 0 || len(p.Booths) == 1 {
				l.Booths = append(l.Booths, b.ID)
			}
		}
		if len(l.Booths) == 0 {
			l.Booths = []string{p.Booths[d.below(len(p.Booths))].ID}
		}
		if d.below(4) > 0 {
			l.Due = at(d.below(x.slots))
		}
		if x.windows && d.below(2) == 0 {
			l.LatestStart = at(d.below(x.slots))
			l.MissCost = float64(d.below(4) * 60)
		}
		if x.waits && d.below(3) == 0 {
			l.Wait = float64(d.below(4)) / 4
		}
		p.Loads = append(p.Loads, l)
	}
	if x.frozen && x.loads > 0 && d.below(2) == 0 {
		freeze(d, &p, at)
	}
	if x.tasks > 0 {
		randomTasks(d, &p, x, at)
	}
	return p
}

func randomOpen(d *dice, x mix, at func(int) time.Time) []Interval {
	var out []Interval
	for k := -d.below(2); k < x.slots; {
		n := 3 + d.below(x.slots/2)
		if x.tightCalendar {
			n = 1 + d.below(x.long+2)
		}
		out = append(out, Interval{at(k), at(min(k+n, x.slots))})
		k += n + 1 + d.below(4)
	}
	if !x.tightCalendar {
		out = append(out, Interval{at(x.slots + 4), at(x.slots + 60)})
	}
	return out
}

// freeze fixes one or two loads so that they do not overlap.
func freeze(d *dice, p *Problem, at func(int) time.Time) {
	free := map[string]int{}
	for j := range 1 + d.below(min(2, len(p.Loads))) {
		l := &p.Loads[j]
		b := l.Booths[0]
		k := free[b] + d.below(6) - 2
		if _, again := free[b]; again {
			k = free[b] + d.below(4)
		}
		l.Frozen = &Frozen{b, at(k)}
		free[b] = k + int(l.Process/grain)
	}
}

func randomTasks(d *dice, p *Problem, x mix, at func(int) time.Time) {
	p.Crews = []Crew{{ID: "body", People: 1 + d.below(2), RoundTheClock: d.below(3) == 0, Open: randomOpen(d, mix{slots: x.slots, long: 3}, at)}}
	if d.below(2) == 0 {
		p.Crews = append(p.Crews, Crew{ID: "prep", People: 1, RoundTheClock: true})
	}
	for k := range x.tasks {
		t := Task{
			ID: fmt.Sprintf("T%d", k), Load: p.Loads[d.below(len(p.Loads))].ID, Crew: p.Crews[d.below(len(p.Crews))].ID,
			Length: grain * time.Duration(1+d.below(3)), MinLag: grain * time.Duration(d.below(3)), Release: at(d.below(4) - 1),
		}
		if d.below(2) == 0 {
			t.HasMax, t.MaxLag = true, t.MinLag+grain*time.Duration(d.below(5))
		}
		if k > 0 && d.below(2) == 0 {
			t.After = []string{fmt.Sprintf("T%d", d.below(k))}
		}
		p.Tasks = append(p.Tasks, t)
	}
}
