package booth_test

import (
	"fmt"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/access"
	"seamwright/services/booth"
)

// planned is a house whose booth plan is kept, by rounds and not by time.
type planned struct {
	*house
	plan *booth.Planner
}

// keeper is the planner of a house.
func (h *house) keeper(o booth.PlanOptions) *planned {
	h.t.Helper()
	people, err := access.Load(peopleFile)
	if err != nil {
		h.t.Fatal(err)
	}
	if o.Rounds == 0 {
		o.Rounds = 50
	}
	p := booth.NewPlanner(h.Desk, h.gate, o)
	h.BoothServiceClient = boothv1.NewBoothServiceClient(h.Serve(h.t, booth.NewServer(h.Desk, h.gate, people).Plan(p).Register))
	return &planned{h, p}
}

// furnished is a planned house with one load, 2207-A, whose bead is not laid.
func furnished(t *testing.T) *planned {
	t.Helper()
	h := open(t)
	h.furnish()
	h.read(21)
	return h.keeper(booth.PlanOptions{})
}

// think is one look of the planner, after its debounce.
func (h *planned) think() *boothv1.Plan {
	h.t.Helper()
	h.pass(time.Minute)
	h.steps()
	return h.shown()
}

// steps is one look of the planner now.
func (h *planned) steps() {
	h.t.Helper()
	if _, err := h.plan.Step(h.t.Context(), h.Time.Now()); err != nil {
		h.t.Fatal(err)
	}
}

func (h *planned) shown() *boothv1.Plan {
	h.t.Helper()
	r, err := h.GetPlan(h.t.Context(), &boothv1.GetPlanRequest{})
	if err != nil {
		h.t.Fatal(err)
	}
	return r.GetPlan()
}

// of is a load's place in a plan.
func (h *planned) of(p *boothv1.Plan, load string) *boothv1.PlannedLoad {
	h.t.Helper()
	for _, l := range p.GetLoads() {
		if l.GetLoadId() == load {
			return l
		}
	}
	h.t.Fatalf("load %s is not in %v", load, p)
	return nil
}

// promise opens a job again with a promise, so long from now.
func (h *planned) promise(ro string, in time.Duration, weight float64) {
	h.t.Helper()
	h.Tell(h.t, &jobsv1.JobOpened{
		Ro: ro, Vehicle: "blue hatchback", PaintColour: "blue", Coats: []floorv1.Coat{floorv1.Coat_COAT_WATERBORNE},
		Promised: timestamppb.New(h.Time.Now().Add(in)), Weight: weight, AfterBoothMin: 30,
	})
}

// told lists the loads that the planner has moved, "2207-A booth-1 08:40".
func (h *planned) told() (out []string) {
	h.Writer.View(func(seq uint64) {
		for n := uint64(1); n <= seq; n++ {
			ev, _, _ := h.Floor.Event(n)
			b, ok := ev.Body.(*boothv1.LoadPlanned)
			if !ok || !b.GetMoved() {
				continue
			}
			at := "no place"
			if b.GetStart() != nil {
				at = b.GetStart().AsTime().Format("15:04")
			}
			out = append(out, fmt.Sprintf("%s %s %s", b.GetLoadId(), b.GetBoothId(), at))
		}
	})
	return out
}

// seq is the journal's newest number.
func (h *planned) seq() uint64 { return h.Writer.Seq() }
