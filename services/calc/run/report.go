package run

import (
	"time"

	"seamwright/services/calc/quantity"
	"seamwright/services/calc/spec"
)

// teller writes a run down step by step.
type teller struct {
	m       *model
	st      state
	run     Run
	nozzle  int
	on      Step // the step before, for what is in hand
	rests   map[[2]int]int
	tidyUps []kept
	best    way
	others  map[[2]int]way  // what using the rest of the stock comes to
	told    map[[2]int]bool // what was said to be passed over
}

// kept is a cartridge that a run has used.
type kept struct {
	prod, entry int
	left        int64
	tip         spec.Nozzle
}

func (m *model) report(best, naive way, least cost, others map[[2]int]way) Run {
	t := &teller{m: m, st: m.begin(), rests: map[[2]int]int{}, best: best, others: others, told: map[[2]int]bool{}}
	t.run = Run{Steps: []Step{}, Stored: []Rest{}, Asides: []Aside{}, Unplanned: append([]Unplanned{}, m.out...)}
	for _, p := range best.picks {
		v, _ := m.try(&t.st, p.seam, p.entry)
		t.tell(p.seam, v)
		t.passOver(p.seam, v)
		m.do(&t.st, p.seam, v)
	}
	t.run.Totals, t.run.Naive = m.totals(best), m.totals(naive)
	t.run.Proved = !least.less(best.cost)
	t.run.Least, t.run.Gap = m.least(best.cost, least)
	t.storeAll()
	t.unused()
	t.leftOut()
	return t.run
}

// totals works a way out again.
func (m *model) totals(w way) Totals {
	st := m.begin()
	m.play(&st, w.picks, never32)
	t := Totals{
		Laid: st.count, Left: len(m.seams) - st.count, Nozzles: int(st.cost.nozzles), Passed: int(st.cost.passed),
		Opened: int(st.cost.opened), Swaps: int(st.cost.swaps), Took: dur(st.cost.ms), WalkLong: int(st.cost.steps),
	}
	sum := int64(0)
	for _, p := range w.picks {
		s := &m.seams[p.seam]
		t.OnSeams += m.p.Seams[s.in].Volume
		sum += s.vol
	}
	t.Taken, t.Waste, t.Thrown = vol(sum+st.cost.waste), vol(st.cost.waste), vol(st.cost.dead)
	t.Tooled = vol(sum) - t.OnSeams
	return t
}

const never32 = 1<<31 - 1

func dur(ms int64) time.Duration { return time.Duration(ms) * time.Millisecond }

func vol(ul int64) quantity.Volume { return quantity.Volume(float64(ul) / 1000) }

// tell writes down laying a seam.
func (t *teller) tell(s int, v move) {
	m := t.m
	k := &m.seams[s]
	x := &m.products[k.prod]
	in := m.p.Seams[k.in]
	step := Step{
		SeamID: in.ID, Part: 1, Parts: 1, Pack: m.pack(x.list[v.entry]), Tip: in.Tip,
		Laid: in.Volume, Waste: vol(k.vol) - in.Volume, Left: vol(v.left), Begins: dur(v.begin), Ends: dur(v.begin + k.lay),
	}
	taken := k.vol
	switch e := &x.list[v.entry]; v.how {
	case goOn:
		last := &m.seams[t.st.last]
		step.Nozzle, step.NozID, step.Pause = t.on.Nozzle, t.on.NozID, dur(v.begin-t.st.cost.ms)
		step.Recut = last.tip.cut < k.tip.cut
	case ready:
		n := m.p.Opened[e.in].Nozzle
		step.NozID, step.Purge, step.Recut = n.ID, vol(e.purge), e.tip.cut < k.tip.cut
		taken += e.purge
	case refit, takeNext:
		taken += t.fitted(&step, x)
		if v.how == takeNext {
			step.Equalise, step.Opens = vol(e.equalise), e.shelf
			taken += e.equalise
		}
	case takeMany:
		t.tellMany(s, v, step)
		return
	}
	step.Taken = vol(taken)
	step.Change, step.Why = t.why(s, v)
	t.add(step, kept{k.prod, v.entry, v.left, in.Tip})
}

// fitted notes a new nozzle on a step and gives what it takes.
func (t *teller) fitted(step *Step, x *product) int64 {
	t.nozzle++
	step.Nozzle, step.Fits = t.nozzle, true
	step.Purge, step.HoldUp = vol(x.purge), vol(x.each-x.purge)
	return x.each
}

// tellMany writes down a bead out of several cartridges, a step for each.
func (t *teller) tellMany(s int, v move, whole Step) {
	m := t.m
	k := &m.seams[s]
	x := &m.products[k.prod]
	rest, begins := k.vol, v.begin
	laidBefore := quantity.Volume(0)
	for i := range v.many {
		e := x.list[v.entry+i]
		part := min(rest, e.net(x.each))
		rest -= part
		step := whole
		step.Part, step.Parts, step.Pack, step.Opens = i+1, v.many, m.pack(e), true
		taken := part + e.equalise + t.fitted(&step, x)
		step.Equalise, step.Taken = vol(e.equalise), vol(taken)
		upTo := whole.Laid * quantity.Volume(float64(k.vol-rest)/float64(k.vol))
		step.Laid, laidBefore = upTo-laidBefore, upTo
		step.Waste = vol(part) - step.Laid
		lay := k.lay*(k.vol-rest)/k.vol - k.lay*(k.vol-rest-part)/k.vol
		step.Begins, step.Ends = dur(begins), dur(begins+lay)
		begins += lay + m.take + m.open + m.fit
		left := e.left - taken
		step.Left = vol(left)
		if i == 0 {
			step.Change, step.Why = t.why(s, v)
		} else {
			step.Change = Joint
			step.Why = t.on.Pack.String() + " is empty and the bead goes on: join it while its end is wet."
		}
		t.add(step, kept{k.prod, v.entry + i, left, step.Tip})
	}
}

func (t *teller) add(step Step, k kept) {
	t.run.Steps = append(t.run.Steps, step)
	t.on = step
	at := [2]int{k.prod, k.entry}
	n, ok := t.rests[at]
	if !ok {
		n = len(t.tidyUps)
		t.rests[at] = n
		t.tidyUps = append(t.tidyUps, k)
	}
	t.tidyUps[n] = k
}

func (m *model) pack(e entry) Pack {
	if e.shelf {
		return Pack{LotID: m.p.Lots[e.in].ID, Nth: e.nth}
	}
	c := m.p.Opened[e.in]
	return Pack{ID: c.ID, LotID: c.LotID}
}
