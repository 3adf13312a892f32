package run

import (
	"fmt"
	"time"
)

// noted is a cartridge that is not used, and why.
type noted struct {
	e   entry
	why string
}

// seconds since 1970 of a use-by date.
func keepsUntil(t time.Time) int64 {
	if t.IsZero() {
		return never
	}
	return t.Unix()
}

// admitOpened takes an opened cartridge into a product's stock.
func (m *model) admitOpened(x *product, i int, c Cartridge) {
	by := useBy(c.Expires, c.Opened, x.p.OpenedLife)
	e := entry{left: down(c.Left), useBy: keepsUntil(by), group: -1 - i, in: i, nth: 1}
	if !c.Equalised {
		e.equalise = up(x.p.Equalise)
	}
	switch {
	case c.Recalled:
		x.drop(e, "its lot was recalled")
	case e.left <= 0:
		x.drop(e, "nothing is left in it by the book: weigh it, or tell that it is empty")
	case !c.Expires.IsZero() && !c.Expires.After(m.p.Start):
		x.drop(e, fmt.Sprintf("its lot expired on %s: throw it away", day(c.Expires)))
	case !by.IsZero() && !by.After(m.p.Start):
		x.drop(e, fmt.Sprintf("it was opened on %s and its life once opened was over on %s: throw it away", day(c.Opened), day(by)))
	default:
		m.enliven(x, &e, c.Nozzle)
		x.list = append(x.list, e)
	}
}

// enliven says whether the nozzle that is on a cartridge can still be used.
func (m *model) enliven(x *product, e *entry, n Nozzle) {
	if n == (Nozzle{}) {
		return
	}
	e.tip = tipOf(n.Tip)
	if !n.Purged { // nothing has moved through it, so no clock runs
		e.live, e.purge, e.deadline = true, x.purge+e.equalise, never
		return
	}
	if left := n.GelsBy.Sub(m.p.Start); left > 0 {
		e.live, e.deadline = true, int64(left/time.Millisecond)
	}
}

// admitLot takes the unopened cartridges of a lot into a product's stock, no
// more of them than its seams could use.
func (m *model) admitLot(x *product, i int, l Lot) {
	e := entry{left: down(l.Cartridge), equalise: up(x.p.Equalise), useBy: keepsUntil(l.Expires), group: i, shelf: true, in: i}
	switch {
	case l.Recalled:
		x.drop(e, "it was recalled")
		return
	case l.Shelf == 0:
		return
	case !l.Expires.IsZero() && !l.Expires.After(m.p.Start):
		x.drop(e, fmt.Sprintf("it expired on %s", day(l.Expires)))
		return
	}
	most := 0
	for _, s := range m.p.Seams {
		if s.ProductID == l.ProductID {
			most++
			if net := e.net(x.each); net > 0 {
				v := up(s.Volume) * int64(100+x.p.Losses.WastePercent+1) / 100
				most += int(min(v/net, int64(l.Shelf)))
			}
		}
	}
	for e.nth = 1; e.nth <= min(most, l.Shelf); e.nth++ {
		x.list = append(x.list, e)
	}
}

func (x *product) drop(e entry, why string) { x.dropped = append(x.dropped, noted{e, why}) }

// admit takes those of a product's seams that can be laid; the others are
// left out with their reasons.
func (m *model) admit(n int, seams []seam) {
	x := &m.products[n]
	for _, s := range seams {
		in := m.p.Seams[s.in]
		switch {
		case in.Volume == 0:
			m.leave(in, "volume-unknown", "How much it takes is not known: enter its profile, width, height and length.")
		case in.Laying == 0:
			m.leave(in, "laying-unknown", "How long laying it takes is not known: enter its length.")
		case x.gel <= 0:
			m.leave(in, "gel-unknown", fmt.Sprintf(
				"How long a nozzle of %s stays good in this bay is not known: enter its nozzle gel time.", x.p.ID))
		case len(x.list) == 0:
			m.leave(in, "no-stock", m.noStock(x))
		default:
			m.admitSeam(x, s, in)
		}
	}
}

func (m *model) admitSeam(x *product, s seam, in Seam) {
	alone := int64(0)
	for _, e := range x.list {
		alone = max(alone, e.net(x.each))
		if e.live && e.tip.serves(s.tip) {
			alone = max(alone, e.left-e.purge)
		}
	}
	s.maxPart = s.lay
	if s.vol > alone {
		s.join, s.maxPart = true, 0
		if reason, why := m.joined(x, &s, in, alone); why != "" {
			m.leave(in, reason, why)
			return
		}
	}
	if s.maxPart > x.gel {
		m.leave(in, "longer-than-gel", fmt.Sprintf(
			"Laying it takes %s and a nozzle of %s gels in %s at this bay's temperature: lay it in a cooler bay or take a slower product.",
			msText(s.maxPart), x.p.ID, msText(x.gel)))
		return
	}
	m.seams = append(m.seams, s)
}

// joined checks whether a seam that no cartridge holds alone can be laid out
// of several of one lot, and says why not.
func (m *model) joined(x *product, s *seam, in Seam, alone int64) (reason, why string) {
	first := m.enough(x, *s)
	if first < 0 {
		return m.short0(x, *s, in)
	}
	change := m.take + m.open + m.fit
	switch {
	case !in.MayJoin && x.list[x.fullest(func(k int) int64 { return x.list[k].left })].left >= s.vol:
		return m.short0(x, *s, in) // it would not need a joint but for the nozzle
	case !in.MayJoin:
		return "no-joint", fmt.Sprintf("It takes %s ml, a cartridge of %s gives %s ml behind its nozzle (%s), and its bead may not have a joint: settle a joint on it or lay it as two seams.",
			ml(s.vol), x.p.ID, ml(alone), x.nozzleTakes(x.list[first]))
	case x.p.Tooling <= 0:
		return "no-joint", fmt.Sprintf("It takes more than a cartridge of %s gives and it is not known how long the bead stays wet for a joint: enter the tooling time.", x.p.ID)
	case change > int64(x.p.Tooling/time.Millisecond):
		return "no-joint", fmt.Sprintf("It takes more than a cartridge of %s gives, and the change takes %s while its bead stays wet for %s only: lay it in a cooler bay or as two seams.",
			x.p.ID, msText(change), msText(int64(x.p.Tooling/time.Millisecond)))
	}
	net := x.list[first].net(x.each)
	s.maxPart = (s.lay*min(net, s.vol) + s.vol - 1) / s.vol
	return "", ""
}

// enough is the first place whose lot holds a seam in several cartridges; -1
// when none does.
func (m *model) enough(x *product, s seam) int {
	for k, e := range x.list {
		if e.shelf && (k == 0 || x.list[k-1].group != e.group) {
			if n, _ := x.several(k, s.vol); n > 0 {
				return k
			}
		}
	}
	return -1
}

// several is how many cartridges of one lot from a place on hold a volume, and
// what is left in the last of them; 0 when the lot has not enough.
func (x *product) several(from int, vol int64) (n int, left int64) {
	group := x.list[from].group
	for k := from; k < len(x.list) && x.list[k].group == group; k++ {
		net := x.list[k].net(x.each)
		if net <= 0 {
			return 0, 0
		}
		n++
		if vol -= net; vol <= 0 {
			return n, -vol
		}
	}
	return 0, 0
}

func (m *model) leave(s Seam, reason, why string) {
	m.out = append(m.out, Unplanned{SeamID: s.ID, Reason: reason, Why: why})
}
