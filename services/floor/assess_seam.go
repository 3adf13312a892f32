package floor

import (
	"fmt"
	"slices"
	"time"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/calc/spec"
)

// The basis of findings that rest on the product's own times.
const productSheet = "product sheet, as entered"

// seamCheck judges one fact about one seam.
type seamCheck struct {
	a     *assessor
	s     *Seam // before the fact
	after *Seam
	f     *fact
	out   []Finding
}

func (c *seamCheck) add(rule string, sev spec.Severity, reason, basis string) {
	c.out = append(c.out, Finding{Rule: rule, Severity: sev, Subject: c.s.ID.key(), Reason: reason, Basis: basis})
}

func (c *seamCheck) run() {
	if c.f.lay != nil {
		c.laid()
		return
	}
	switch e := c.f.body.(type) {
	case *jobsv1.BeadTooled:
		c.tooled()
	case *jobsv1.CoatApplied:
		if e.GetOver() != floorv1.Coat_COAT_UNSPECIFIED {
			c.coated(e)
		}
	case *jobsv1.DoneElsewhere:
		c.elsewhere(e)
	case *jobsv1.BeadDisturbed:
		c.add("bead-disturbed", spec.Stop, "The bead was disturbed: "+e.GetHow()+".", spec.CommonPractice)
	case *jobsv1.WaterTested:
		c.tested(e)
	case *jobsv1.SeamInspected:
		if !e.GetAccepted() {
			c.add("not-accepted", spec.Stop, "The inspection did not accept the seam: "+orNote(e.GetNote())+".", spec.CommonPractice)
		}
	case *curesv1.StageObserved:
		c.observed(e)
	}
}

func orNote(s string) string {
	if s == "" {
		return "no note was given"
	}
	return s
}

// laid judges a layer of material.
func (c *seamCheck) laid() {
	l := c.f.lay
	if !c.s.prepped && c.s.under == nil {
		c.add("not-prepped", spec.Query, "Nobody said that the joint was prepped before it was laid.", spec.CommonPractice)
	}
	b := c.a.book
	cart := c.a.fl.cartridgeBefore(b, l.cartridge, c.f)
	p := c.a.fl.productOf(b, c.s, c.a.fl.cartridgeBefore(b, c.f.lay.cartridge, c.f), c.f)
	c.undercoat()
	c.nozzle(cart, p)
	c.cartridge(cart, p)
	if p == nil {
		c.add("product-unknown", spec.Query, "Which product was laid is not known; its clocks cannot run.", spec.CommonPractice)
		return
	}
	c.rules(p)
	c.temperature(p)
}

// undercoat asks whether what the bead lies on was dry and still fresh.
func (c *seamCheck) undercoat() {
	u, l := c.s.under, c.f.lay
	if u == nil {
		return
	}
	if dry := u.late.Add(minutes(u.dryMin)); u.dryMin > 0 && l.begunEarly.Before(dry) {
		c.add("undercoat-not-dry", spec.Stop, fmt.Sprintf("The %s under it is dry from %s; laying began at %s.",
			u.makes, clockTime(dry), clockTime(l.begun)), productSheet)
	}
	limit := u.at.Add(minutes(u.recoat))
	if u.recoat > 0 && l.endedLate.After(limit) && !u.scuffed.After(u.at) {
		c.add("undercoat-past-recoat", spec.Stop, fmt.Sprintf("The %s under it had to be sealed by %s or scuffed; laying ended at %s.",
			u.makes, clockTime(limit), clockTime(l.ended)), productSheet)
	}
}

// cartridge asks for date, opening, equalising and purging.
func (c *seamCheck) cartridge(cart *Cartridge, p *Product) {
	l := c.f.lay
	c.recalled(l.cartridge)
	switch {
	case l.cartridge == "":
		c.add("cartridge-unknown", spec.Query, "Which cartridge was used was not told.", spec.CommonPractice)
		return
	case cart == nil || cart.Lot == "":
		c.add("cartridge-unknown", spec.Query, fmt.Sprintf("Cartridge %s was never opened by this journal; its lot is not known.", l.cartridge), spec.CommonPractice)
		return
	}
	if lot := c.a.fl.lotOf(c.a.book, cart.Lot); lot != nil {
		c.lot(lot)
	}
	if p != nil && p.OpenedLife > 0 && l.ended.After(cart.Opened.Add(p.OpenedLife)) {
		c.add("opened-life-over", spec.Query, fmt.Sprintf("Cartridge %s was opened %s; an opened one keeps %.0f days.",
			cart.ID, cart.Opened.UTC().Format("2 Jan 2006"), p.OpenedLife.Hours()/24), productSheet)
	}
	if !cart.Equalised {
		c.add("not-equalised", spec.Stop, fmt.Sprintf("Cartridge %s was not equalised: the first material is off its mixing ratio.", cart.ID), spec.CommonPractice)
	}
	if !cart.Purged || l.nozzle != "" && l.nozzle != cart.Nozzle {
		c.add("not-purged", spec.Stop, fmt.Sprintf("Cartridge %s was not purged since this nozzle was fitted: the first material is not mixed.", cart.ID), spec.CommonPractice)
	}
}

// recalled asks whether the lot was taken back, also when its cartridge was
// said to be opened only after it was used, or the lot was never received.
func (c *seamCheck) recalled(id CartridgeID) {
	lot := lotFrom(c.a.book, id)
	if r := recallOf(c.a.book, lot); r != nil {
		c.add(lotRecalled, spec.Stop, fmt.Sprintf("Lot %s was recalled: %s.", lot, r.body.(*materialsv1.LotRecalled).GetWhy()), spec.CommonPractice)
	}
}

func (c *seamCheck) lot(lot *Lot) {
	if !lot.Expires.IsZero() && c.f.lay.ended.After(lot.Expires) {
		c.add("lot-out-of-date", spec.Stop, fmt.Sprintf("Lot %s was to be used by %s; take another cartridge or ask a foreman to answer for it.",
			lot.ID, lot.Expires.UTC().Format("2 Jan 2006 15:04")), productSheet)
	}
}

// clock makes a clock of the bead as it was before the fact.
func (c *seamCheck) clock(k floorv1.Clock) (runningClock, bool) {
	if c.s.Bead == nil || c.s.Bead.Product == nil {
		return runningClock{}, false
	}
	r, ok := beadClock(c.s, k)
	path := c.a.fl.pathIn(c.a.book, c.s)
	if !ok || path == nil {
		return runningClock{}, false
	}
	r.where = path
	return r, true
}

// since says since when, if that is known.
func since(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return " since " + clockTime(t)
}

func (c *seamCheck) tooled() {
	r, ok := c.clock(floorv1.Clock_CLOCK_TOOLING)
	if !ok {
		return
	}
	if v := cure.JudgeHindsight(r.where, r.clock, c.f.late); v.Reached != cure.No {
		c.add("tooled-late", spec.Query, fmt.Sprintf("Tooled at %s; the tooling time may have been over%s.", clockTime(c.f.at), since(v.DueHot)), productSheet)
	}
}

// coated judges the first coat: not before the window is surely open, not
// after it may have closed. The coat began when it began.
func (c *seamCheck) coated(e *jobsv1.CoatApplied) {
	if c.s.coated {
		return
	}
	began := c.f.late.Add(-e.GetLasted().AsDuration())
	if !c.underSpray() {
		c.add("coated-without-permit", spec.Stop, fmt.Sprintf("The %s began at %s and no load with this seam was being sprayed: there was no permit for it.",
			spec.Coat(enumWord(e.GetOver())), clockTime(began)), spec.CommonPractice)
	}
	asked := *c.s
	asked.firstCoat = spec.Coat(enumWord(e.GetOver()))
	look := seamCheck{a: c.a, s: &asked, f: c.f}
	r, ok := look.clock(floorv1.Clock_CLOCK_COAT_OPENS)
	if !ok {
		c.add("coat-window-unknown", spec.Query, fmt.Sprintf("Whether the %s could go on at %s is not known: nothing is known of this bead's window for it.",
			asked.firstCoat, clockTime(began)), spec.CommonPractice)
	}
	if ok {
		if v := cure.JudgeHindsight(r.where, r.clock, c.f.early.Add(-e.GetLasted().AsDuration())); v.Reached != cure.Yes {
			c.add("coat-before-open", spec.Stop, fmt.Sprintf("The %s began at %s; the coat window was not surely open (%.0f %% at the cold bound).",
				asked.firstCoat, clockTime(began), 100*v.Progress()), productSheet)
		}
	}
	if r, ok := look.clock(floorv1.Clock_CLOCK_COAT_CLOSES); ok {
		if v := cure.JudgeHindsight(r.where, r.clock, began); v.Reached != cure.No {
			c.add("coat-after-close", spec.Stop, fmt.Sprintf("The %s began at %s without a scuff; the coat window may have closed%s.",
				asked.firstCoat, clockTime(began), since(v.DueHot)), productSheet)
		}
	}
}

// underSpray reports whether spraying of a load with this seam, or with its
// panel, had started when the coat was on. Whether that had a permit is judged
// with the spraying.
func (c *seamCheck) underSpray() bool {
	fl := c.a.fl
	for _, id := range sortedKeys(fl.loads) {
		if fl.loads[id].RO != c.s.Job {
			continue
		}
		l := fl.foldLoad(c.a.book, id)
		if l == nil || l.Sprayed.IsZero() || l.Sprayed.After(c.f.late) {
			continue
		}
		if slices.ContainsFunc(l.Seams, func(s SeamID) bool { return s == c.s.ID || panelOf(c.a.book, s) == c.s.Panel }) {
			return true
		}
	}
	return false
}

// elsewhere weighs work that this journal did not see. A coat over a bead of
// ours passes its clocks by, so a foreman decides; the rest is asked before
// delivery, unless a foreman told it.
func (c *seamCheck) elsewhere(e *jobsv1.DoneElsewhere) {
	to := Stage(enumWord(e.GetStage()))
	switch {
	case to.Rank() >= CoatedOn.Rank() && c.s.Bead != nil && !c.s.Bead.Elsewhere && !c.s.coated:
		c.add("elsewhere-over-own", spec.Stop, fmt.Sprintf("The bead that this journal knows was not coated here; that it is %s stands on the word of %s and %s.",
			to, e.GetWho(), e.GetPaper()), spec.CommonPractice)
	case to.Rank() >= Laid.Rank() && c.f.head.Role != Foreman:
		c.add("elsewhere-unproved", spec.Query, fmt.Sprintf("That the seam is %s stands on the word of %s and %s; nobody here saw it.", to, e.GetWho(), e.GetPaper()), spec.CommonPractice)
	}
}

func (c *seamCheck) tested(e *jobsv1.WaterTested) {
	if !e.GetTight() {
		c.add("leaks", spec.Stop, "Water came through: "+orNote(e.GetNote())+".", spec.CommonPractice)
	}
	r, ok := c.clock(floorv1.Clock_CLOCK_HANDLING)
	if !ok {
		return
	}
	if v := cure.JudgeHindsight(r.where, r.clock, c.f.early); v.Reached != cure.Yes {
		c.add("tested-early", spec.Query, fmt.Sprintf("Water-tested at %s; the bead was not surely fit for handling (%.0f %% at the cold bound).", clockTime(c.f.at), 100*v.Progress()), productSheet)
	}
}

// observed notes a stage that a person saw reached outside its bounds.
func (c *seamCheck) observed(e *curesv1.StageObserved) {
	r, ok := c.clock(e.GetClock())
	if !ok {
		return
	}
	if v := cure.JudgeHindsight(r.where, r.clock, c.f.at); v.Reached == cure.No {
		c.add("observed-early", spec.Note, fmt.Sprintf("Seen reached at %s, before the label allows (%s at the hot bound).", clockTime(c.f.at), dueWord(v.DueHot)), productSheet)
	}
}

func dueWord(t time.Time) string {
	if t.IsZero() {
		return "never"
	}
	return clockTime(t)
}
