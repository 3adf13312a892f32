package floor

import (
	"time"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/cure"
)

// Observation is a stage that somebody saw reached, with what the bead had
// been in until then.
type Observation struct {
	Seam     SeamID
	Clock    floorv1.Clock
	Seq      uint64
	From, At time.Time
	Where    cure.Surroundings
	Product  *Product // the revision that the bead was laid under
	Early    bool     // before the label allows it, at the hot bound
	Guessed  bool     // when it was seen is only claimed
}

// Observations lists what was seen of a product's beads, by seam. Coat windows
// are no stage that can be seen.
func (fl *Floor) Observations(id ProductID) []Observation {
	var out []Observation
	for _, seam := range fl.Seams() {
		facts := fl.book.of(seam.key())
		for _, f := range facts {
			e, ok := f.body.(*curesv1.StageObserved)
			if !ok || e.GetClock() == floorv1.Clock_CLOCK_COAT_OPENS || e.GetClock() == floorv1.Clock_CLOCK_COAT_CLOSES {
				continue
			}
			if o, ok := fl.observation(seam, e.GetClock(), f, before(facts, f)); ok && o.Product.ID == id {
				out = append(out, o)
			}
		}
	}
	return out
}

func (fl *Floor) observation(id SeamID, k floorv1.Clock, f *fact, facts []*fact) (Observation, bool) {
	s := fl.foldSeam(fl.book, id, facts)
	if s == nil || !s.Complete() || s.Bead == nil || s.Bead.Product == nil {
		return Observation{}, false
	}
	r, ok := beadClock(s, k)
	path := fl.pathIn(fl.book, s)
	if !ok || path == nil || !f.at.After(r.clock.From) {
		return Observation{}, false
	}
	return Observation{
		Seam: id, Clock: k, Seq: f.seq, From: r.clock.From, At: f.at, Where: path, Product: s.Bead.Product,
		Early: cure.JudgeHindsight(path, r.clock, f.at).Reached == cure.No, Guessed: f.head.AgeKind == AgeClaimed,
	}, true
}
