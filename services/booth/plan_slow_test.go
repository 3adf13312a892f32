package booth_test

import (
	"slices"
	"testing"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/booth"
	"seamwright/services/calc/plan"
)

// While a plan is being made, however long it takes, permits are asked for,
// given and looked after, facts are told, and whoever asks for the plan gets the
// one before.
func TestASlowPlanHoldsUpNobody(t *testing.T) {
	entered, leave := make(chan struct{}), make(chan struct{})
	slow := false
	h := ready(t).keeper(booth.PlanOptions{Solve: func(p plan.Problem, o plan.Options) (plan.Plan, error) {
		if slow {
			slow = false
			close(entered)
			<-leave
		}
		return plan.Solve(p, o)
	}})
	before := h.think()
	h.job("2208")
	h.pass(time.Minute) // past the debounce
	slow = true
	done := make(chan error, 1)
	go func() {
		_, err := h.plan.Step(t.Context(), h.Time.Now())
		done <- err
	}()
	select {
	case <-entered:
	case err := <-done:
		t.Fatalf("no plan was made: %v", err)
	}
	if got := h.shown(); got.GetNumber() != before.GetNumber() {
		t.Errorf("plan %d, want %d, the one before", got.GetNumber(), before.GetNumber())
	}
	h.read(21)
	h.hear()
	h.permit()
	h.step()
	if s := h.state(); s.GetSign() != boothv1.Sign_SIGN_CLEAR {
		t.Errorf("the gate shows %s", s.GetSign())
	}
	h.at(&jobsv1.BeadDisturbed{SeamId: seam, How: "a sleeve"}) // what falls away is seen at once
	if s := h.state(); s.GetSign() != boothv1.Sign_SIGN_HOLD {
		t.Errorf("disturbed, the gate shows %s", s.GetSign())
	}
	h.step()
	close(leave)
	if err := <-done; err != nil {
		t.Fatal(err)
	}
	if got := h.permits(); len(got) != 2 || got[0] != "issued" {
		t.Errorf("permits: %v", got)
	}
	if got := h.shown(); got.GetNumber() <= before.GetNumber() {
		t.Errorf("plan %d after %d", got.GetNumber(), before.GetNumber())
	}
}

// What is decided of a plan is looked at again where it is stored: a load
// that got its permit while the plan was made is not moved by it.
func TestAPermitThatComesWhileThePlanIsMadeStands(t *testing.T) {
	var meanwhile func()
	h := ready(t).keeper(booth.PlanOptions{Solve: func(p plan.Problem, o plan.Options) (plan.Plan, error) {
		if do := meanwhile; do != nil {
			meanwhile = nil
			do()
		}
		return plan.Solve(p, o)
	}})
	meanwhile = func() { h.permit() }
	h.read(21)
	h.hear()
	h.think() // it would put 2207-A somewhere for the first time
	if got := h.told(); len(got) > 0 {
		t.Errorf("a load with a permit was moved: %v", got)
	}
	h.step()
	if got := h.permits(); !slices.Equal(got, []string{"issued"}) {
		t.Errorf("permits: %v", got)
	}
}
