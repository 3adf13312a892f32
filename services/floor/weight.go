package floor

import (
	"fmt"
	"time"

	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/calc/spec"
)

// How far off what is read may be (common practice, no source): a bench scale
// to a gram or two, with the tare and the density of one cartridge taken for
// those of all; a mark on the plunger by about the width of the pen.
const (
	scaleError ul = 2_000
	markError  ul = 5_000
)

// level is what was last known for sure to be in a cartridge.
type level struct {
	how string // "opened full"; empty: nothing is known
	at  time.Time
	ul  ul
	off ul // how far off that may be
}

// surplus is material that a weight or a mark finds in a cartridge beyond what
// can be in it.
type surplus struct {
	how  string // "weighed"
	ul   ul     // found
	most ul
	off  ul // how far off both readings may be together
	why  string
}

// weigh takes in a weight or a mark. One that finds more than can be there is
// only noted: it corrects nothing, and the next one is compared with what was
// known before it.
func (c *Cartridge) weigh(e *materialsv1.CartridgeWeighed, f *fact) {
	read := level{how: "weighed", at: f.at, ul: toUL(e.GetRemainingMl()), off: scaleError}
	if e.GetMarked() {
		read.how, read.off = "marked", markError
	}
	if over, ok := c.tooFull(read); ok {
		c.surpluses[f.seq] = over
		return
	}
	c.known = read
	c.measure(read.ul)
}

// tooFull compares a reading with the size of the cartridge, and with the most
// that can be left: nothing comes back into a cartridge. What was told since
// it was last known has left it; what was laid as planned may have been less
// than the plan, down to nothing. Where more was told than it held, which is a
// finding of its own, what was told says nothing.
func (c *Cartridge) tooFull(r level) (surplus, bool) {
	if c.Full > 0 && r.ul > c.Full+r.off {
		return surplus{r.how, r.ul, c.Full, r.off, "that is its size"}, true
	}
	if !c.booked || c.known.how == "" {
		return surplus{}, false // nobody knows what it held
	}
	s := surplus{how: r.how, ul: r.ul, most: c.Remaining, off: r.off + c.known.off}
	for _, u := range c.uses[c.since:] {
		if u.f.lay.planned {
			s.most += u.volume
		}
	}
	if s.most < 0 {
		s.most = c.known.ul
	}
	if s.ul <= s.most+s.off {
		return surplus{}, false
	}
	s.why = fmt.Sprintf("%s on %s it held %.1f ml", c.known.how, c.known.at.UTC().Format("2 Jan at 15:04"), c.known.ul.ML())
	if s.most < c.known.ul {
		s.why += fmt.Sprintf(", and %.1f ml are told to have left it since", (c.known.ul - s.most).ML())
	}
	return s, true
}

// reason says it in one sentence.
func (s surplus) reason(id CartridgeID) string {
	return fmt.Sprintf("%s is %s at %.1f ml, yet %.1f ml at most can be in it: %s (what was read may be %.0f ml off); weigh it again and take back what is wrong; while this stands it corrects nothing.",
		id, s.how, s.ul.ML(), s.most.ML(), s.why, s.off.ML())
}

// weighed is the finding about a weight or a mark that cannot be.
func weighed(c *Cartridge, f *fact) []Finding {
	s, ok := c.surpluses[f.seq]
	if !ok {
		return nil
	}
	return []Finding{about(c.ID.key(), "weighed-too-full", spec.Query, s.reason(c.ID), spec.CommonPractice)}
}
