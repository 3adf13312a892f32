package feed_test

import (
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/app"
	"seamwright/services/screens"
)

// plan is the one that the shop keeps.
func (s *shop) plan() *boothv1.Plan {
	s.t.Helper()
	r, err := boothv1.NewBoothServiceClient(s.conn).GetPlan(s.t.Context(), &boothv1.GetPlanRequest{})
	must(s.t, err)
	return r.GetPlan()
}

// TestTheScreensShowThePlanThatIsKept: the lanes, the marks of what is to be
// laid and the booth's order are the plan's, to the minute.
func TestTheScreensShowThePlanThatIsKept(t *testing.T) {
	s := open(t, app.Options{Plan: true}, true)
	s.until(at(8, 0))
	p, board := s.plan(), s.board()
	if !p.GetPlanning() || p.GetTrouble() != "" || len(p.GetLoads()) < 6 || len(p.GetLayBy()) < 20 {
		t.Fatalf("plan %v", p)
	}
	var want, got []string
	for _, l := range p.GetLoads() {
		want = append(want, l.GetBoothId()+" "+l.GetLoadId()+" "+l.GetStart().AsTime().Format("2 15:04"))
	}
	for _, lane := range board.Lanes {
		for _, b := range lane.Blocks {
			if b.Kind == screens.BlockLoad {
				got = append(got, lane.Booth+" "+b.Label+" "+b.From.UTC().Format("2 15:04"))
			}
		}
	}
	slices.Sort(want)
	slices.Sort(got)
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("lanes (-plan +board):\n%s", d)
	}
	by := map[string]time.Time{}
	for _, w := range p.GetLayBy() {
		by[w.GetSeamId()] = w.GetDoneBy().AsTime()
	}
	marks := 0
	for _, j := range board.Jobs {
		for _, r := range j.Seams {
			if r.LayBy == nil {
				continue
			}
			marks++
			if at := by[j.RO+"/"+r.ID[len(j.RO)+1:]]; !r.LayBy.At.Equal(at) {
				t.Errorf("seam %s is to be laid by %s on the board, by %s in the plan", r.ID, r.LayBy.At, at)
			}
		}
	}
	if marks != len(by) {
		t.Errorf("%d seams bear a mark, the plan has %d to lay", marks, len(by))
	}
	var order []string
	for _, l := range p.GetLoads() {
		if l.GetBoothId() == "booth-1" && l.GetStart().AsTime().Day() == 2 {
			order = append(order, l.GetLoadId())
		}
	}
	booth := s.booth("booth-1")
	var loads []string
	for _, l := range booth.Loads {
		loads = append(loads, l.ID)
		if l.Why == "" {
			t.Errorf("nobody says why %s stands there", l.ID)
		}
	}
	if d := cmp.Diff(order, loads); d != "" {
		t.Errorf("today's order (-plan +booth):\n%s", d)
	}
	if booth.Load == nil || booth.Load.ID != order[0] {
		t.Errorf("the gate speaks of %+v, the plan begins with %s", booth.Load, order[0])
	}
}
