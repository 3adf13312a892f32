package run

import (
	"fmt"
	"strconv"
	"time"
)

func ml(ul int64) string { return plainML(float64(ul) / 1000) }

func plainML(x float64) string { return strconv.FormatFloat(float64(int64(x*10+0.5))/10, 'f', -1, 64) }

func msText(ms int64) string { return minSec(dur(ms)) }

func day(t time.Time) string { return t.UTC().Format("2006-01-02") }

func noProduct(s Seam) string {
	if s.ProductID == "" {
		return "No product is settled for it: settle its plan first."
	}
	return fmt.Sprintf("Product %s is not among the shop's products: enter its sheet or settle another.", s.ProductID)
}

// noStock says what there is of a product and why none of it will do.
func (m *model) noStock(x *product) string {
	if len(x.dropped) == 0 {
		return fmt.Sprintf("There is no %s in stock: receive a lot or settle another product.", x.p.ID)
	}
	text := ""
	for i, d := range x.dropped {
		if i == 3 {
			text += fmt.Sprintf("; %d more alike", len(x.dropped)-3)
			break
		}
		if i > 0 {
			text += "; "
		}
		text += m.stockName(d.e) + ": " + d.why
	}
	return fmt.Sprintf("Nothing in stock of %s can be used (%s): receive a lot or settle another product.", x.p.ID, text)
}

func (m *model) stockName(e entry) string {
	if e.shelf {
		return "lot " + m.p.Lots[e.in].ID
	}
	return m.p.Opened[e.in].ID
}

// why says why a seam is not laid with the nozzle in hand.
func (t *teller) why(s int, v move) (Change, string) {
	if v.how == goOn {
		return "", ""
	}
	m := t.m
	k := &m.seams[s]
	x := &m.products[k.prod]
	c, text := t.cause(s, v)
	e := x.list[v.entry]
	switch v.how {
	case ready:
		if e.deadline == never {
			return NozzleReady, text + fmt.Sprintf("The nozzle on %s is not used yet: purge it.", m.pack(e))
		}
		return NozzleReady, text + fmt.Sprintf("The nozzle on %s is still good for %s.", m.pack(e), msText(e.deadline))
	case refit:
		if last := t.st.last; last >= 0 && m.seams[last].prod == k.prod {
			return c, text + "Fit another nozzle."
		}
		return c, text + fmt.Sprintf("Go on with %s and another nozzle.", m.pack(e))
	}
	text += fmt.Sprintf("Take %s", m.pack(e))
	if e.useBy != never {
		text += ", use by " + day(time.Unix(e.useBy, 0))
	}
	if v.add.passed == 0 {
		text += ", the first to expire that holds it"
	} else {
		text += ", though older stock is passed over"
	}
	return c, text + "."
}

// cause says what keeps the nozzle in hand from being used.
func (t *teller) cause(s int, v move) (Change, string) {
	m := t.m
	if t.st.last < 0 {
		return FirstNozzle, ""
	}
	k, last := &m.seams[s], &m.seams[t.st.last]
	x, h := &m.products[k.prod], &t.st.hands[k.prod]
	switch {
	case last.prod != k.prod:
		return OtherProduct, fmt.Sprintf("%s after %s. ", x.p.ID, m.products[last.prod].p.ID)
	case last.tip.kind != k.tip.kind:
		return OtherTip, fmt.Sprintf("It wants %s. ", tipText(m.p.Seams[k.in]))
	case !last.tip.serves(k.tip):
		return OtherTip, fmt.Sprintf("The tip is cut at %g mm and cannot be cut back to %g mm. ",
			float64(last.tip.cut)/1000, float64(k.tip.cut)/1000)
	case v.walk <= x.gel && m.pause(t.st.last, s) > x.gel:
		return WouldGel, fmt.Sprintf("The way there and cutting its tip wider take %s and the nozzle gels in %s. ", msText(m.pause(t.st.last, s)), msText(x.gel))
	case v.walk > x.gel:
		return WouldGel, fmt.Sprintf("The way there takes %s and the nozzle gels in %s. ", msText(v.walk), msText(x.gel))
	case k.join:
		return TooLittle, fmt.Sprintf("It takes %s ml, more than any cartridge gives behind a new nozzle. ", ml(k.vol))
	case h.left < k.vol:
		return TooLittle, fmt.Sprintf("The cartridge in hand has %s ml left and the seam takes %s ml. ", ml(h.left), ml(k.vol))
	}
	return RestKept, fmt.Sprintf("What is left in the cartridge in hand, %s ml, is kept: using it now would come to more nozzles, more waste, a rest to throw away or more time. ", ml(h.left))
}

func tipText(s Seam) string {
	if s.Tip.Kind == "" {
		return "a tip that is not settled"
	}
	return "the " + s.Tip.String()
}

// storeAll says what becomes of the cartridges that were used.
func (t *teller) storeAll() {
	for _, k := range t.tidyUps {
		x := &t.m.products[k.prod]
		e := x.list[k.entry]
		r := Rest{Pack: t.m.pack(e), Left: vol(k.left), Tip: k.tip}
		switch {
		case k.left == 0:
			r.Discard, r.Why = true, "It is used up."
		case k.left <= x.each:
			r.Discard = true
			r.Why = fmt.Sprintf("%s ml are left and the next nozzle would take %s ml: throw it away.", ml(k.left), ml(x.each))
		default:
			r.UseBy = t.m.keepsTo(x, e)
			r.Why = fmt.Sprintf("Store it with its nozzle on; next time fit another and purge it again, %s ml.", ml(x.each))
		}
		t.run.Stored = append(t.run.Stored, r)
	}
}

// keepsTo is the use-by date of a cartridge that the run has used.
func (m *model) keepsTo(x *product, e entry) time.Time {
	if e.shelf {
		return useBy(m.p.Lots[e.in].Expires, m.p.Start, x.p.OpenedLife)
	}
	c := m.p.Opened[e.in]
	return useBy(c.Expires, c.Opened, x.p.OpenedLife)
}

// passOver notes what a move passes over, as it was counted.
func (t *teller) passOver(s int, v move) {
	if v.add.passed == 0 {
		return
	}
	k := &t.m.seams[s]
	x, h := &t.m.products[k.prod], &t.st.hands[k.prod]
	n, group := int32(0), 0
	for at := int(h.pos) + 1; at < v.entry; at++ {
		e := x.list[at]
		if e.useBy >= x.list[v.entry].useBy {
			break
		}
		if e.live && h.used>>x.liveAt(at)&1 != 0 || n > 0 && e.group == group {
			continue
		}
		n, group = n+1, e.group
		holds := ""
		if !e.shelf {
			holds = ml(e.left) + " ml are in it, "
		}
		t.aside(e, true, fmt.Sprintf("%sto be used by %s, before what is taken: %s.", holds, day(time.Unix(e.useBy, 0)), t.dearer(k.prod, at)))
	}
	if n < v.add.passed {
		e := x.list[h.cur]
		t.aside(e, true, fmt.Sprintf("to be used by %s, before what is taken, and the %s ml left in it would hold %s: using them would take more nozzles or leave a seam out.",
			day(time.Unix(e.useBy, 0)), ml(h.left), t.m.p.Seams[k.in].ID))
	}
}

func (t *teller) aside(e entry, passed bool, why string) {
	a := Aside{Passed: passed, Why: why}
	if e.shelf {
		a.LotID = t.m.p.Lots[e.in].ID
	} else {
		a.ID, a.LotID = t.m.p.Opened[e.in].ID, t.m.p.Opened[e.in].LotID
	}
	t.run.Asides = append(t.run.Asides, a)
}

// least says what any run comes to at least, and what better one was not ruled
// out.
func (m *model) least(best, least cost) (Least, string) {
	if !least.less(best) {
		least = best
	}
	l := Least{Left: int(least.left), Nozzles: int(least.nozzles), Passed: int(least.passed), Waste: vol(least.waste)}
	switch {
	case least == best:
		return l, ""
	case least.left < best.left:
		return l, fmt.Sprintf("Not proved best: one that leaves out %d fewer seams was not ruled out.", best.left-least.left)
	case least.nozzles < best.nozzles:
		return l, fmt.Sprintf("Not proved best: one with %d nozzles in place of %d was not ruled out.", least.nozzles, best.nozzles)
	case least.passed < best.passed:
		return l, "Not proved best: none takes fewer nozzles, one that passes over less of the older stock was not ruled out."
	case least.waste < best.waste:
		return l, fmt.Sprintf("Not proved best: none takes fewer nozzles, one with up to %s ml less waste was not ruled out.", ml(best.waste-least.waste))
	}
	return l, "Not proved best: none takes fewer nozzles or wastes less, one that opens or throws away less, changes products less often, or is quicker, was not ruled out."
}
