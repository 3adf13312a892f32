package plan

import (
	"math"
	"slices"
	"time"
)

// model is a problem in whole numbers: moments and lengths are counted from
// the start in units of which all of them are multiples, so that sums are
// exact and whole minutes with whole weights cost whole numbers.
type model struct {
	unit   int64 // nanoseconds
	booths []booth
	setup  [][]int64 // from colour, to colour; never where no such pair can come
	loads  []load
	crews  []crew
	tasks  []task
	order  []int32 // tasks, each behind those that it waits for
	free   []int32 // loads that are not frozen
	marks  []int32 // frozen loads that have not begun
	none   float64 // cost of a load without a place, above all lateness that there can be
	base   float64 // cost of frozen loads
}

type booth struct {
	open   []span
	colour int32
	frozen []int32 // loads by start
	first  state   // at the start, frozen loads that have begun are past
	least  []int64 // setup into a colour, out of any that can be there
}

type span struct{ from, to int64 }

type load struct {
	length, release int64
	slackEnd        int64 // a start later than this is late
	latest          int64 // a start later than this is missed
	weight          float64
	miss            float64
	wait            float64
	colour          int32
	booths          []int32
	may             []bool // by booth
	fixed           int32  // booth of a frozen load, -1 for others
	at              int64  // start of a frozen load
	nth             int32  // of a frozen load, among those of its booth
	tasks           []int32
}

type crew struct {
	people int
	open   []span // nil: round the clock
}

type task struct {
	load, crew    int32
	length        int64
	minLag        int64
	maxLag        int64 // never: none
	release       int64
	after, before []int32
	past          bool // its load has begun, so it counts as done
}

// never is later than any moment of a plan, and sums of a few stay in range.
const never = math.MaxInt64 / 8

// cost of a load that starts at s.
func (l *load) cost(s int64) float64 {
	c := 0.0
	if s > l.slackEnd {
		c = l.weight * float64(s-l.slackEnd)
	}
	if l.wait > 0 {
		c += l.waits(s)
	}
	if s > l.latest {
		c += l.miss
	}
	return c
}

// waits is what it costs that a load starts at s and not at the plan's start.
func (l *load) waits(s int64) float64 { return l.wait * float64(max(s, 0)) }

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	if a < 0 {
		return -a
	}
	return a
}

// compile turns a checked problem into whole numbers.
func compile(p *Problem) *model {
	m := &model{unit: p.commonUnit()}
	at := func(t time.Time) int64 { return int64(t.Sub(p.Start)) / m.unit }
	d := func(x time.Duration) int64 { return int64(x) / m.unit }
	spans := func(open []Interval) []span {
		out := make([]span, len(open))
		for i, o := range open {
			out[i] = span{at(o.From), at(o.To)}
		}
		return out
	}
	colours := map[string]int32{}
	colour := func(c string) int32 {
		k, ok := colours[c]
		if !ok {
			k = int32(len(colours))
			colours[c] = k
		}
		return k
	}
	boothOf := map[string]int32{}
	for i, b := range p.Booths {
		boothOf[b.ID] = int32(i)
		m.booths = append(m.booths, booth{open: spans(b.Open), colour: colour(b.Colour)})
	}
	loadOf := map[string]int32{}
	perMinute := float64(m.unit) / float64(time.Minute)
	for i := range p.Loads {
		l := &p.Loads[i]
		loadOf[l.ID] = int32(i)
		n := load{
			length: d(l.Process), weight: l.Weight * perMinute, miss: l.MissCost, wait: l.Wait * perMinute, colour: colour(l.Colour),
			may: make([]bool, len(p.Booths)), fixed: -1, slackEnd: never, latest: never,
		}
		if !l.Release.IsZero() {
			n.release = max(0, at(l.Release))
		}
		if !l.Due.IsZero() {
			n.slackEnd = at(l.Due) - d(l.Tail) - n.length
		}
		if !l.LatestStart.IsZero() {
			n.latest = at(l.LatestStart)
		}
		for _, b := range l.Booths {
			n.booths = append(n.booths, boothOf[b])
			n.may[boothOf[b]] = true
		}
		slices.Sort(n.booths)
		if l.Frozen != nil {
			n.fixed, n.at = boothOf[l.Frozen.Booth], at(l.Frozen.Start)
			n.booths, n.may = []int32{n.fixed}, make([]bool, len(p.Booths))
			n.may[n.fixed] = true
			m.booths[n.fixed].frozen = append(m.booths[n.fixed].frozen, int32(i))
			m.base += n.cost(n.at)
		} else {
			m.free = append(m.free, int32(i))
		}
		m.loads = append(m.loads, n)
	}
	m.setup = make([][]int64, len(colours))
	for c := range m.setup {
		m.setup[c] = slices.Repeat([]int64{never}, len(colours))
	}
	for from, row := range p.Setups {
		for to, x := range row {
			f, ok1 := colours[from]
			t, ok2 := colours[to]
			if ok1 && ok2 {
				m.setup[f][t] = d(x)
			}
		}
	}
	m.compileTasks(p, loadOf, at, d, spans)
	m.settle()
	return m
}

func (m *model) compileTasks(p *Problem, loadOf map[string]int32, at func(time.Time) int64, d func(time.Duration) int64, spans func([]Interval) []span) {
	crewOf := map[string]int32{}
	for i, c := range p.Crews {
		crewOf[c.ID] = int32(i)
		n := crew{people: c.People}
		if !c.RoundTheClock {
			n.open = spans(c.Open)
			if n.open == nil {
				n.open = []span{}
			}
		}
		m.crews = append(m.crews, n)
	}
	taskOf := map[string]int32{}
	for i := range p.Tasks {
		taskOf[p.Tasks[i].ID] = int32(i)
	}
	m.tasks = make([]task, len(p.Tasks))
	for i := range p.Tasks {
		t := &p.Tasks[i]
		n := &m.tasks[i]
		n.load, n.crew = loadOf[t.Load], crewOf[t.Crew]
		n.length, n.minLag, n.maxLag = d(t.Length), d(t.MinLag), never
		if t.HasMax {
			n.maxLag = d(t.MaxLag)
		}
		if !t.Release.IsZero() {
			n.release = max(0, at(t.Release))
		}
		l := &m.loads[n.load]
		n.past = l.fixed >= 0 && l.at <= 0
		l.tasks = append(l.tasks, int32(i))
		for _, a := range t.After {
			n.after = append(n.after, taskOf[a])
			m.tasks[taskOf[a]].before = append(m.tasks[taskOf[a]].before, int32(i))
		}
	}
	waits := make([]int, len(m.tasks))
	for i := range m.tasks {
		if waits[i] = len(m.tasks[i].after); waits[i] == 0 {
			m.order = append(m.order, int32(i))
		}
	}
	for k := 0; k < len(m.order); k++ {
		for _, x := range m.tasks[m.order[k]].before {
			if waits[x]--; waits[x] == 0 {
				m.order = append(m.order, x)
			}
		}
	}
}

// settle works out what follows from the rest: where each booth stands at the
// start and what a load without a place costs.
func (m *model) settle() {
	end := int64(0)
	for b := range m.booths {
		x := &m.booths[b]
		slices.SortStableFunc(x.frozen, func(i, j int32) int {
			return int(max(-1, min(1, m.loads[i].at-m.loads[j].at)))
		})
		x.first = state{colour: x.colour}
		for k, f := range x.frozen {
			m.loads[f].nth = int32(k)
			if l := &m.loads[f]; l.at < 0 || l.at == 0 && l.length > 0 {
				m.pass(b, &x.first)
			}
			end = max(end, m.loads[f].at)
		}
		if k := len(x.open); k > 0 {
			end = max(end, x.open[k-1].to)
		}
		m.marks = append(m.marks, x.frozen[x.first.frozen:]...)
	}
	m.leastSetups()
	m.none = 1
	for i := range m.loads {
		l := &m.loads[i]
		m.none += l.cost(max(end, 0)) + l.miss
	}
}

// commonUnit is the greatest number of nanoseconds of which every moment,
// counted from the start, and every length is a multiple.
func (p *Problem) commonUnit() int64 {
	g := int64(0)
	moment := func(t time.Time) {
		if !t.IsZero() {
			g = gcd(g, int64(t.Sub(p.Start)))
		}
	}
	intervals := func(open []Interval) {
		for _, o := range open {
			moment(o.From)
			moment(o.To)
		}
	}
	for _, b := range p.Booths {
		intervals(b.Open)
	}
	for _, row := range p.Setups {
		for _, d := range row {
			g = gcd(g, int64(d))
		}
	}
	for i := range p.Loads {
		l := &p.Loads[i]
		moment(l.Release)
		moment(l.LatestStart)
		moment(l.Due)
		g = gcd(gcd(g, int64(l.Process)), int64(l.Tail))
		if l.Frozen != nil {
			moment(l.Frozen.Start)
		}
	}
	for _, c := range p.Crews {
		intervals(c.Open)
	}
	for i := range p.Tasks {
		t := &p.Tasks[i]
		moment(t.Release)
		g = gcd(gcd(g, int64(t.Length)), gcd(int64(t.MinLag), int64(t.MaxLag)))
	}
	return max(g, 1)
}
