package feed

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"seamwright/services/calc/cure"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// hand is the state of the cartridge that a seam would be laid with.
func (v *view) hand(s *floor.Seam, terminal string) hand {
	if terminal == "" {
		return hand{have: true, equalised: true, nozzle: true, purged: true}
	}
	c := v.cartridge(s, terminal)
	if c == nil {
		return hand{}
	}
	h := hand{have: true, equalised: c.Equalised, nozzle: c.Nozzle != "", purged: c.Purged, flowed: c.Flowed()}
	if n := v.f.Nozzle(c.Nozzle); n != nil {
		h.wrongTip = otherTip(n.Kind, v.beadOf(s).Nozzle)
	}
	if g, ok := v.f.Gel(c.ID, v.now); ok {
		h.gel = g.Reached
	} else if c.Flowed() {
		h.gel = cure.No // no gel time is known: nothing says that it gelled
	}
	return h
}

// otherTip reports whether two nozzles in words are of different kinds,
// however they are cut; what is not told differs from nothing.
func otherTip(on, planned string) bool {
	a, _, _ := strings.Cut(on, " cut at ")
	b, _, _ := strings.Cut(planned, " cut at ")
	return a != "" && b != "" && a != b
}

// cartridge is the one to lay a seam with at a terminal: of the planned
// product, in hand here before one from the shelf, the one handled last
// first. Nil: none is open.
func (v *view) cartridge(s *floor.Seam, terminal string) *floor.Cartridge {
	var want floor.ProductID
	if p := v.productFor(s); p != nil {
		want = p.ID
	}
	var best *floor.Cartridge
	rank := func(c *floor.Cartridge) int {
		here := v.s.index.inHandOf(c.ID).terminal == terminal
		switch {
		case c.Emptied || c.Remaining.ML() < 0:
			return 0
		case c.Product != want && (c.Product != "" || !here): // of an unknown lot: only where it was opened
			return 0
		case here && !c.Stored:
			return 3
		case v.openedTooLong(c):
			return 0
		case c.Stored:
			return 2
		}
		return 0 // in hand at another terminal
	}
	for _, id := range v.f.Cartridges() {
		c := v.f.Cartridge(id)
		if rank(c) == 0 {
			continue
		}
		if best == nil || cmp.Or(cmp.Compare(rank(c), rank(best)), cmp.Compare(v.s.index.inHandOf(c.ID).seq, v.s.index.inHandOf(best.ID).seq)) > 0 {
			best = c
		}
	}
	return best
}

// The rules that put what is in a cartridge in doubt.
const (
	overdrawn      = "volume-overdrawn"
	weighedTooFull = "weighed-too-full"
)

// doubts are the open queries about what is in a cartridge.
func (v *view) doubts(c *floor.Cartridge) []*floor.FindingState {
	var out []*floor.FindingState
	for _, f := range v.f.Findings("cartridge/" + string(c.ID)) {
		if f.Open() && (f.Rule == overdrawn || f.Rule == weighedTooFull) {
			out = append(out, f)
		}
	}
	return out
}

// doubted are the cartridges in doubt that a seam was laid from, or that were
// handled last at this terminal.
func (v *view) doubted(s *floor.Seam, terminal string) []*floor.Cartridge {
	uses := v.f.Uses(s.ID)
	var out []*floor.Cartridge
	for _, id := range v.f.Cartridges() {
		here := v.s.index.inHandOf(id).terminal == terminal
		if !here && !slices.ContainsFunc(uses, func(u floor.Use) bool { return u.Cartridge == id }) {
			continue
		}
		if c := v.f.Cartridge(id); len(v.doubts(c)) > 0 {
			out = append(out, c)
		}
	}
	return out
}

func (v *view) openedTooLong(c *floor.Cartridge) bool {
	p := v.f.Product(c.Product, v.now)
	return p != nil && p.OpenedLife > 0 && v.now.After(c.Opened.Add(p.OpenedLife))
}

// lot is the lot to open a cartridge of a product from: first expired first
// out, neither recalled nor out of date. Nil: none is on the shelf.
func (v *view) lot(p floor.ProductID) *floor.Lot {
	var fit []*floor.Lot
	for _, id := range v.f.Lots() {
		l := v.f.Lot(id)
		if l.Product == p && l.Shelf > 0 && !l.Recalled && (l.Expires.IsZero() || l.Expires.After(v.now)) {
			fit = append(fit, l)
		}
	}
	if len(fit) == 0 {
		return nil
	}
	return slices.MinFunc(fit, func(a, b *floor.Lot) int {
		if a.Expires.IsZero() != b.Expires.IsZero() {
			if a.Expires.IsZero() {
				return 1
			}
			return -1
		}
		return cmp.Or(a.Expires.Compare(b.Expires), cmp.Compare(a.ID, b.ID))
	})
}

// nextID is the shop's next own number with a prefix: "C32" after "C31".
func nextID[T ~string](prefix string, taken []T) string {
	most := 0
	for _, id := range taken {
		if n, err := strconv.Atoi(strings.TrimPrefix(string(id), prefix)); err == nil && strings.HasPrefix(string(id), prefix) {
			most = max(most, n)
		}
	}
	return fmt.Sprintf("%s%d", prefix, most+1)
}

// nozzle is the mixer that runs at a terminal: on the cartridge that was
// handled here last and that material has moved through.
func (v *view) nozzle(terminal string) *screens.Nozzle {
	var best *floor.Cartridge
	for _, id := range v.f.Cartridges() {
		c := v.f.Cartridge(id)
		h := v.s.index.inHandOf(id)
		if h.terminal == terminal && c.Flowed() && (best == nil || h.seq > v.s.index.inHandOf(best.ID).seq) {
			best = c
		}
	}
	if best == nil {
		return nil
	}
	n := &screens.Nozzle{Cartridge: string(best.ID), FlowedAt: best.LastFlow.At, Product: productWords(v.f.Product(best.Product, v.now))}
	if left := best.Remaining.ML(); best.Full > 0 {
		left = max(left, 0)
		n.LeftML = &left
	}
	g, ok := v.f.Gel(best.ID, v.now)
	if !ok {
		n.Advice = "no gel time is known for it: keep it moving, and look before you lay"
		return n
	}
	n.State, n.GelsAt, n.GelTime, n.Advice = nozzleState(g.Reached), g.DueHot, gelTime(g, best.LastFlow.Early), "keep it moving"
	if n.State != screens.NozzleGood {
		n.Advice = "take it off; fit and purge a new one before you lay"
	}
	return n
}

func gelTime(g floor.ClockState, from time.Time) time.Duration {
	if g.DueHot.IsZero() {
		return 0
	}
	return g.DueHot.Sub(from)
}

func nozzleState(r cure.Reached) screens.NozzleState {
	switch r {
	case cure.No:
		return screens.NozzleGood
	case cure.Yes:
		return screens.NozzleGelled
	}
	return screens.NozzleMay
}
