package run

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"seamwright/services/calc/quantity"
	"seamwright/services/calc/spec"
)

const never = math.MaxInt64

// maxLive is how many nozzles of one product can still be good; of more of
// them no gun is there.
const maxLive = 16

// model is a problem in whole numbers: µl, ms, places in lists.
type model struct {
	p        Problem
	seams    []seam // those that can be laid at all
	products []product
	out      []Unplanned

	take, open, fit, cut, walkPanel, walkCar int64
	panels, cars                             int
}

type seam struct {
	in      int // place in the problem
	prod    int
	vol     int64 // with its waste
	lay     int64
	tip     tip
	panel   int // in the order given; panels of another car are others
	car     int
	join    bool // no cartridge holds it alone: it is laid out of several of one lot
	twin    int  // an earlier seam that is the same in all that counts, or -1
	maxPart int64
}

// tip is a kind of tip and its cut in µm.
type tip struct {
	kind int8
	cut  int32
}

// serves reports whether a nozzle with this tip can lay a seam that wants
// another one: of the same kind, cut wider if need be.
func (t tip) serves(want tip) bool { return t.kind == want.kind && t.cut <= want.cut }

// widen is how long it takes to cut a nozzle's tip for a seam that it serves.
func (m *model) widen(on, want tip) int64 {
	if on.cut < want.cut {
		return m.cut
	}
	return 0
}

type product struct {
	p       Product
	each    int64 // purge and hold-up
	purge   int64
	gel     int64
	list    []entry // first expired first
	lives   []int   // places of those with a nozzle that is still good
	seams   []int
	minimum int64 // least volume of its seams
	room    []room
	dropped []noted // what is not in the list, and why
}

// entry is a cartridge that a run may use.
type entry struct {
	left     int64
	equalise int64
	useBy    int64 // s since 1970; never when it keeps
	group    int   // lot on the shelf, or the opened cartridge by itself
	shelf    bool
	nth      int // of its lot, from 1
	in       int // place among lots or opened cartridges

	live     bool
	tip      tip
	purge    int64 // still to be squeezed through the nozzle
	deadline int64 // ms after the start
}

// net is what seams can get out of an entry through one new nozzle.
func (e entry) net(each int64) int64 { return e.left - e.equalise - each }

func up(v quantity.Volume) int64 { return int64(math.Ceil(v.ML()*1000 - 1e-6)) }

func down(v quantity.Volume) int64 { return int64(math.Floor(v.ML()*1000 + 1e-6)) }

func ms(d time.Duration) int64 { return int64((d + time.Millisecond - 1) / time.Millisecond) }

func tipOf(n spec.Nozzle) tip {
	t := tip{kind: int8(slices.Index(spec.NozzleKinds(), n.Kind))}
	if n.Kind != spec.GuidedStep { // it rides on the hem and is not cut
		t.cut = int32(math.Round(n.CutMM * 1000))
	}
	return t
}

// newModel makes a problem ready and sorts out what cannot be laid.
func newModel(p Problem) *model {
	t := p.Times
	m := &model{p: p, take: ms(t.Take), open: ms(t.Open), fit: ms(t.Fit), cut: ms(t.Cut), walkPanel: ms(t.WalkPanel), walkCar: ms(t.WalkCar)}
	at := map[string]int{}
	for i, x := range p.Products {
		at[x.ID] = i
		purge, hold := up(quantity.Volume(x.Losses.PurgeML)), up(quantity.Volume(x.Losses.HoldUpML))
		m.products = append(m.products, product{
			p: x, each: purge + hold, purge: purge, gel: int64(x.Gel / time.Millisecond), minimum: never,
		})
	}
	byProduct := make([][]seam, len(m.products))
	panels, cars := map[[2]string]int{}, map[string]int{}
	for i, s := range p.Seams {
		k := seam{in: i, prod: -1, lay: ms(s.Laying), tip: tipOf(s.Tip), twin: -1, panel: placeOf(panels, [2]string{s.RO, s.Panel}), car: placeOf(cars, s.RO)}
		if n, ok := at[s.ProductID]; ok {
			k.prod = n
			k.vol = up(s.Volume * quantity.Volume(1+m.products[n].p.Losses.WastePercent/100))
			byProduct[n] = append(byProduct[n], k)
			if k.vol > 0 {
				m.products[n].minimum = min(m.products[n].minimum, k.vol)
			}
		} else {
			m.leave(s, "no-product", noProduct(s))
		}
	}
	m.panels, m.cars = len(panels), len(cars)
	m.stock(at)
	for n := range m.products {
		m.admit(n, byProduct[n])
	}
	slices.SortFunc(m.seams, func(a, b seam) int { return cmp.Compare(a.in, b.in) })
	m.index()
	return m
}

func placeOf[K comparable](places map[K]int, k K) int {
	n, ok := places[k]
	if !ok {
		n = len(places)
		places[k] = n
	}
	return n
}

// index fills in what is looked up by seam once it is settled which are laid.
func (m *model) index() {
	for i := range m.seams {
		s := &m.seams[i]
		x := &m.products[s.prod]
		x.seams = append(x.seams, i)
		for j := i - 1; j >= 0; j-- {
			o := m.seams[j]
			if o.prod == s.prod && o.vol == s.vol && o.lay == s.lay && o.tip == s.tip && o.panel == s.panel && o.join == s.join {
				s.twin = j
				break
			}
		}
	}
	for n := range m.products {
		x := &m.products[n]
		m.tidy(x)
		x.measure()
	}
}

// tidy drops what none of the seams that were admitted can be laid from, and
// finds the nozzles that are still good.
func (m *model) tidy(x *product) {
	if len(x.seams) == 0 { // what keeps its seams from being laid is told with them
		x.list, x.dropped = nil, nil
		return
	}
	var list []entry
	for k, e := range x.list {
		holds := slices.ContainsFunc(x.seams, func(i int) bool {
			s := m.seams[i]
			if s.join {
				return e.shelf && m.firstHolds(x, k, s.vol)
			}
			return s.vol <= e.net(x.each) || e.live && s.vol <= e.left-e.purge
		})
		if holds {
			list = append(list, e)
		} else if e.nth == 1 {
			x.drop(e, m.holdsTooLittle(x, e))
		}
	}
	x.list = list
	for k := range x.list {
		if !x.list[k].live {
			continue
		}
		if len(x.lives) == maxLive {
			x.list[k].live = false
			continue
		}
		x.lives = append(x.lives, k)
	}
}

// stock puts each product's cartridges into the order that they are used in.
func (m *model) stock(at map[string]int) {
	wanted := func(id string) *product {
		if n, ok := at[id]; ok && m.products[n].minimum != never {
			return &m.products[n]
		}
		return nil
	}
	for i, c := range m.p.Opened {
		if x := wanted(c.ProductID); x != nil {
			m.admitOpened(x, i, c)
		}
	}
	for i, l := range m.p.Lots {
		if x := wanted(l.ProductID); x != nil {
			m.admitLot(x, i, l)
		}
	}
	for n := range m.products {
		x := &m.products[n]
		slices.SortFunc(x.list, m.fefo)
	}
}

// firstHolds reports whether a lot, from its first cartridge on, holds a
// volume in several of them.
func (m *model) firstHolds(x *product, k int, vol int64) bool {
	for k > 0 && x.list[k-1].group == x.list[k].group {
		k--
	}
	n, _ := x.several(k, vol)
	return n > 0
}

// fefo is the order that cartridges of a product are used in.
func (m *model) fefo(a, b entry) int {
	opened := func(e entry) int {
		if e.shelf {
			return 1
		}
		return 0
	}
	return cmp.Or(
		cmp.Compare(a.useBy, b.useBy), cmp.Compare(opened(a), opened(b)),
		strings.Compare(m.nameOf(a), m.nameOf(b)), cmp.Compare(a.nth, b.nth),
	)
}

func (m *model) nameOf(e entry) string {
	if e.shelf {
		return m.p.Lots[e.in].ID
	}
	return m.p.Opened[e.in].ID
}

// walk is how long it takes from one seam to the next, and how far along the
// panels as given.
func (m *model) walk(from, to int) (ms int64, steps int32) {
	if from < 0 {
		return 0, 0
	}
	a, b := &m.seams[from], &m.seams[to]
	if a.panel == b.panel {
		return 0, 0
	}
	steps = int32(max(a.panel-b.panel, b.panel-a.panel))
	if a.car != b.car {
		return m.walkCar, steps
	}
	return m.walkPanel, steps
}
