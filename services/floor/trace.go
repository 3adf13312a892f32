package floor

import (
	"cmp"
	"slices"
	"time"

	materialsv1 "seamwright/proto/seamwright/materials/v1"
)

// lotRecalled is the rule of the stop that a recall raises.
const lotRecalled = "lot-recalled"

// Trace is a lot and where it went.
type Trace struct {
	ID       LotID
	Received time.Time // first; zero: never
	Recalled time.Time // zero: it was not
	Why      string    // of the recall
	Uses     []Traced  // in the order in which they were laid
}

// Traced is one layer that was laid of a lot.
type Traced struct {
	Use
	Job     JobState      // empty: the job is not known
	Finding *FindingState // the stop that a recall raised about it; nil: none
	OnHold  bool          // by that stop: it is open, the bead lies there, the job is in work
}

// Trace follows a lot; false when nobody ever named it.
func (fl *Floor) Trace(id LotID) (Trace, bool) {
	facts := fl.book.of(id.key())
	if len(facts) == 0 {
		return Trace{}, false
	}
	t := Trace{ID: id}
	for _, f := range facts {
		if _, ok := f.body.(*materialsv1.LotReceived); ok {
			t.Received = f.at
			break
		}
	}
	if f := recallOf(fl.book, id); f != nil {
		t.Recalled, t.Why = f.at, f.body.(*materialsv1.LotRecalled).GetWhy()
	}
	from := openedFrom(fl.book, id)
	for _, c := range distinct(from) {
		if cart := fl.cartridges[c]; cart != nil && cart.Lot == id {
			for _, u := range cart.uses {
				t.Uses = append(t.Uses, fl.traced(u.f))
			}
		}
	}
	slices.SortFunc(t.Uses, func(a, b Traced) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Seq, b.Seq), cmp.Compare(a.Pass, b.Pass))
	})
	return t, true
}

func (fl *Floor) traced(f *fact) Traced {
	t := Traced{Use: fl.useOf(f)}
	if j := fl.jobs[t.Seam.RO()]; j != nil {
		t.Job = j.State
	}
	for _, id := range fl.byFact[t.Seq] {
		s := fl.findings[id]
		if s.Rule != lotRecalled || s.Lapsed || s.Seam() != t.Seam {
			continue
		}
		if t.Finding == nil || s.Open() {
			t.Finding = s
		}
	}
	t.OnHold = t.Finding != nil && t.Finding.Open() && t.Removed.IsZero() && t.Job == JobOpen
	return t
}
