package feed_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
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

// TestThePlanSaysWhyAPermitWasLost: the load that had it bears when and why it
// was taken back, until there is another.
func TestThePlanSaysWhyAPermitWasLost(t *testing.T) {
	s := open(t, app.Options{Plan: true}, true)
	s.until(at(8, 0))
	s.ripen()
	ours := func() *boothv1.PlannedLoad {
		for _, l := range s.plan().GetLoads() {
			if l.GetLoadId() == load {
				return l
			}
		}
		t.Fatal("the load is not in the plan")
		return nil
	}
	_, err := s.atBooth(painter, "booth-1", s.booth("booth-1").Request, nil)
	must(t, err)
	s.wait(time.Second)
	if l := ours(); !l.GetPermitted() || l.GetPermitLost() != "" {
		t.Fatalf("with its permit: %v", l)
	}
	s.told(&jobsv1.BeadDisturbed{SeamId: ro + "/" + ditch, How: "a sleeve brushed it"})
	taken := s.time.Now().Format("15:04")
	for n := 0; n < 60 && ours().GetPermitted(); n++ { // until the next plan
		s.wait(time.Second)
	}
	if l := ours(); l.GetPermitted() || !strings.HasPrefix(l.GetPermitLost(), "taken back at "+taken+": ") || !strings.Contains(l.GetPermitLost(), "a sleeve brushed it") {
		t.Errorf("once the bead was touched: permitted %t, %q", l.GetPermitted(), l.GetPermitLost())
	}
	want := "The permit for " + load + " was taken back at " + taken + ": "
	if rs := s.booth("booth-1").Reasons; len(rs) == 0 || !strings.HasPrefix(rs[0].Text, want) || !strings.Contains(rs[0].Text, "a sleeve brushed it") {
		t.Errorf("the booth's screen says %+v, want first %s", rs, want)
	}
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

// TestTheDeskAnswersQuestions: the foreman's page has every load and every
// seam to lay, and says what would be; nothing of it is recorded.
func TestTheDeskAnswersQuestions(t *testing.T) {
	s := open(t, app.Options{Plan: true}, true)
	s.until(at(8, 0))
	ask := func(q screens.Question) screens.Plan {
		t.Helper()
		p, err := s.src.Plan(t.Context(), q)
		must(t, err)
		return p
	}
	kept, desk := s.plan(), ask(screens.Question{})
	works := 0
	for _, b := range desk.Bays {
		works += len(b.Works)
	}
	if !desk.Planning || desk.Answer != nil || len(desk.Loads) != len(kept.GetLoads()) || works != len(kept.GetLayBy()) || len(desk.Seams) != works {
		t.Fatalf("desk %+v", desk)
	}
	if l := desk.Loads[0]; l.ID != kept.GetLoads()[0].GetLoadId() || l.Order != 1 || l.Booth == "" || l.Why == "" || len(l.Waits) == 0 {
		t.Errorf("first load %+v", l)
	}
	before := s.app.Desk().Writer.Seq()
	for name, c := range map[string]struct {
		q    screens.Question
		says string
	}{
		"a seam waits":   {screens.Question{Seam: kept.GetLayBy()[0].GetSeamId(), Until: "15:00"}, "later"},
		"a booth closed": {screens.Question{Booth: "booth-1"}, "3 Mar 07:30"},
		"a promise":      {screens.Question{Load: "2219-A", Due: "08:30"}, "weighted minutes more"},
		"no hour":        {screens.Question{Load: "2219-A", Due: "soon"}, "an hour of the day"},
		"tomorrow":       {screens.Question{Load: "2219-A", Due: "09:00", Day: "2026-03-03"}, "2219-A starts "},
		"no day":         {screens.Question{Load: "2219-A", Due: "16:00", Day: "never"}, "a day like"},
		"no such seam":   {screens.Question{Seam: "2207/none", Until: "15:00"}, "is not known"},
	} {
		t.Run(name, func(t *testing.T) {
			a := ask(c.q).Answer
			if a == nil || a.Question == "" {
				t.Fatalf("no answer to %+v", c.q)
			}
			words := a.Summary + " " + strings.Join(a.Changes, "; ") + a.Wrong
			if !strings.Contains(words, c.says) {
				t.Errorf("%s? %q, want %q in it", a.Question, words, c.says)
			}
		})
	}
	if got := s.app.Desk().Writer.Seq(); got != before {
		t.Errorf("the journal went from %d to %d", before, got)
	}
}
