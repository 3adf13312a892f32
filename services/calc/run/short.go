package run

import (
	"fmt"

	"seamwright/services/calc/quantity"
)

// nozzleTakes says what a new nozzle takes out of a cartridge before a bead
// can be laid.
func (x *product) nozzleTakes(e entry) string {
	text := fmt.Sprintf("a new nozzle takes %s ml of it, %s to purge and %s that stay in it", ml(x.each), ml(x.purge), ml(x.each-x.purge))
	if e.equalise > 0 {
		text += fmt.Sprintf(", and bringing its sides level %s ml", ml(e.equalise))
	}
	return text
}

// fullest is the cartridge of a product with the most in it; the caller knows
// that there is one.
func (x *product) fullest(left func(k int) int64) (k int) {
	for i := range x.list {
		if left(i) > left(k) {
			k = i
		}
	}
	return k
}

// short0 says why a seam is left out that no cartridge gives enough for and no
// lot has enough of them: what there is, or what its nozzle takes.
func (m *model) short0(x *product, s seam, in Seam) (reason, why string) {
	e := x.list[x.fullest(func(k int) int64 { return x.list[k].left })]
	if e.left < s.vol {
		return "too-little", fmt.Sprintf("It takes %s ml and the fullest cartridge of %s, %s, holds %s ml; no lot has enough of them: %s.",
			ml(s.vol), x.p.ID, m.pack(e), ml(e.left), m.remedy(x, s, in, 0))
	}
	return "nozzle-takes-it", fmt.Sprintf("It takes %s ml. The fullest cartridge of %s, %s, holds %s ml, yet %s; %s ml are left for the bead: %s.",
		ml(s.vol), x.p.ID, m.pack(e), ml(e.left), x.nozzleTakes(e), ml(max(0, e.net(x.each))), m.remedy(x, s, in, e.left))
}

// remedy is what helps a seam that there is too little for: a lot, if its
// cartridges would hold it. Of a cartridge with so much in it was said what it
// gives.
func (m *model) remedy(x *product, s seam, in Seam, said int64) string {
	full := down(x.p.Cartridge)
	for _, l := range m.p.Lots {
		if l.ProductID == x.p.ID {
			full = max(full, down(l.Cartridge))
		}
	}
	net := full - up(x.p.Equalise) - x.each
	switch {
	case full == 0 || net >= s.vol:
		return "receive a lot"
	case said == full && !in.MayJoin && net > 0:
		return "purge less, settle a joint on it or lay it as two seams"
	case said == full && net <= 0:
		return "purge less"
	case net <= 0:
		return fmt.Sprintf("a full cartridge of %s ml has nothing to spare either, so purge less", ml(full))
	case in.MayJoin:
		return fmt.Sprintf("receive a lot of at least %d cartridges", (s.vol+net-1)/net)
	case full >= s.vol:
		return fmt.Sprintf("a full cartridge of %s ml gives %s ml, so purge less, settle a joint on it or lay it as two seams", ml(full), ml(net))
	}
	return fmt.Sprintf("a full cartridge holds %s ml, so settle a joint on it or lay it as two seams", ml(full))
}

// holdsTooLittle says why none of the seams that are laid can be laid out of a
// cartridge.
func (m *model) holdsTooLittle(x *product, e entry) string {
	least := int64(never)
	for _, i := range x.seams {
		least = min(least, m.seams[i].vol)
	}
	net := e.net(x.each)
	switch {
	case net <= 0:
		return fmt.Sprintf("it holds %s ml and %s: nothing would be left for a bead, so throw it away", ml(e.left), x.nozzleTakes(e))
	case e.left >= least:
		return fmt.Sprintf("it holds %s ml and %s: %s ml are left for a bead, and the smallest of these takes %s ml", ml(e.left), x.nozzleTakes(e), ml(net), ml(least))
	}
	return fmt.Sprintf("it holds %s ml, and the smallest of these seams takes %s ml", ml(e.left), ml(least))
}

// leftOut says which seams the stock did not reach for.
func (t *teller) leftOut() {
	for i, s := range t.m.seams {
		if !t.st.done.has(i) {
			reason, why := t.unreached(s)
			t.run.Unplanned = append(t.run.Unplanned, Unplanned{SeamID: t.m.p.Seams[s.in].ID, Reason: reason, Why: why})
		}
	}
}

// unreached says what there is for a seam once the others are laid, and why it
// does not do.
func (t *teller) unreached(s seam) (reason, why string) {
	x := &t.m.products[s.prod]
	left := func(k int) int64 {
		if n, used := t.rests[[2]int{s.prod, k}]; used {
			return t.tidyUps[n].left
		}
		return x.list[k].left
	}
	k := x.fullest(left)
	e := x.list[k]
	_, used := t.rests[[2]int{s.prod, k}]
	if used {
		e.equalise = 0
	}
	in := t.m.p.Seams[s.in]
	head := fmt.Sprintf("It takes %s ml. After the other seams the fullest cartridge of %s, %s, holds %s ml", ml(s.vol), x.p.ID, t.m.pack(e), ml(left(k)))
	switch {
	case s.join:
		sum := quantity.Volume(0)
		for k := range x.list {
			sum += vol(left(k))
		}
		return "too-little", fmt.Sprintf("It takes %s ml out of several cartridges of one lot, and the other seams leave %s ml of %s in all: %s.",
			ml(s.vol), plainML(sum.ML()), x.p.ID, t.m.remedy(x, s, in, 0))
	case left(k) < s.vol:
		return "too-little", head + ": " + t.m.remedy(x, s, in, 0) + "."
	case left(k)-e.equalise-x.each >= s.vol:
		return "too-little", head + ", but no order was found that lays it too: plan fewer seams at a time, or " + t.m.remedy(x, s, in, 0) + "."
	}
	if e.live && !used {
		head += fmt.Sprintf(", the nozzle on it gels in %s, before it could be used", msText(e.deadline))
	}
	return "nozzle-takes-it", head + fmt.Sprintf(", and %s: %s.", x.nozzleTakes(e), t.m.remedy(x, s, in, 0))
}
