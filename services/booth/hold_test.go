package booth_test

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/booth"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/journal"
	"seamwright/services/record"
	"seamwright/services/record/recordtest"
)

// holds are ways in which a load that may be sprayed comes not to be, each
// with the name that must come back.
var holds = map[string]func(*house){
	floor.HoldStop:        func(h *house) { h.at(&jobsv1.BeadDisturbed{SeamId: seam, How: "a sleeve"}) },
	floor.HoldStale:       func(h *house) { h.pass(16 * time.Minute); h.hear() },
	floor.HoldImplausible: func(h *house) { h.pass(time.Second); h.read(30); h.hear() },
	floor.HoldSilent:      func(h *house) { h.pass(6 * time.Minute); h.read(21) },
	floor.HoldBoothFault:  func(h *house) { h.Tell(h.t, &boothv1.BoothFaulted{BoothId: "booth-1", What: "fan"}) },
	floor.HoldBoothBusy: func(h *house) {
		h.Tell(h.t, &boothv1.BoothPhaseChanged{BoothId: "booth-1", Phase: boothv1.Phase_PHASE_BAKING, Expected: durationpb.New(time.Hour)})
	},
	floor.HoldBoothClosed: func(h *house) {
		h.Tell(h.t, &boothv1.BoothDefined{BoothId: "booth-1", ZoneId: "room", FirstCoatMin: 20, ProcessMin: 60, Open: []*floorv1.Interval{
			{From: timestamppb.New(recordtest.Monday), To: timestamppb.New(h.Time.Now().Add(19 * time.Minute))},
		}})
	},
	floor.HoldWrongBooth: func(h *house) {
		h.Tell(h.t, &boothv1.LoadPlanned{LoadId: "2207-A", BoothId: "booth-2", Ro: "2207", SeamIds: []string{seam}})
	},
	floor.HoldJobEnded:  func(h *house) { h.Tell(h.t, &jobsv1.JobCancelled{Ro: "2207", Why: "total loss"}) },
	floor.HoldUnhealthy: func(h *house) { h.fault = errors.New("proof broken") },
	floor.HoldNotLaid:   func(h *house) { h.at(&jobsv1.SeamReworked{SeamId: seam}) },
	floor.HoldElsewhere: func(h *house) {
		h.at(&jobsv1.SeamReworked{SeamId: seam})
		h.Tell(h.t, &jobsv1.DoneElsewhere{SeamId: seam, Stage: floorv1.Stage_STAGE_LAID, Who: "the shop next door", Paper: "sheet 4"})
	},
	floor.HoldCoatUnknown: func(h *house) {
		h.Tell(h.t, &boothv1.LoadPlanned{LoadId: "2207-A", BoothId: "booth-1", Ro: "2207", SeamIds: []string{seam}, Coat: floorv1.Coat_COAT_SOLVENTBORNE})
	},
	floor.HoldLoadEmpty: func(h *house) {
		h.Tell(h.t, &boothv1.LoadPlanned{LoadId: "2207-A", BoothId: "booth-1", Ro: "2207"})
	},
	floor.HoldBoothUnknown: func(h *house) { h.withdraw(&boothv1.BoothDefined{BoothId: "booth-1"}) },
	floor.HoldLoadUnknown:  func(h *house) { h.withdraw(&boothv1.LoadPlanned{LoadId: "2207-A"}) },
	floor.HoldSeamUnknown: func(h *house) {
		h.Tell(h.t, &jobsv1.SeamSurveyed{SeamId: "2207/tail", Panel: "tail", Place: "tail", LengthMm: 1, Reference: &floorv1.Reference{}})
		h.Tell(h.t, &boothv1.LoadPlanned{LoadId: "2207-A", BoothId: "booth-1", Ro: "2207", SeamIds: []string{seam, "2207/tail"}})
		h.withdraw(&jobsv1.SeamSurveyed{SeamId: "2207/tail"})
	},
	floor.HoldMayClose: func(h *house) { h.closeAfter(100) },
	floor.HoldClosed:   func(h *house) { h.closeAfter(70) },
	floor.HoldNotOpen: func(h *house) { // late readings tell that it was cold
		for m := 77; m > 0; m -= 5 {
			h.late(&curesv1.ReadingTaken{ZoneId: "bay-1", ProbeId: "p9", TempC: 6}, time.Duration(m)*time.Minute)
		}
	},
	floor.HoldLayerMissing: func(h *house) {
		h.at(&jobsv1.SeamReworked{SeamId: seam})
		h.at(&jobsv1.BeadLaid{
			SeamId: seam, CartridgeId: "C1", NozzleId: "N1", Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: proto.Float64(1),
			Technique: floorv1.Technique_TECHNIQUE_OFF_PANEL_BEAD,
		})
	},
	floor.HoldLoadSprayed: func(h *house) {
		h.Tell(h.t, &boothv1.SprayStarted{BoothId: "booth-1", LoadId: "2207-A"})
	},
}

// closeAfter corrects the product: its coat window closes after minutes.
func (h *house) closeAfter(minutes float64) {
	h.t.Helper()
	p := recordtest.Levelling()
	p.Cure.Over[0].ClosesMin = minutes
	h.correct(p)
}

// Every reason comes back by its name, and the service gives no permit.
func TestEveryHoldComesBackByName(t *testing.T) {
	for name, spoil := range holds {
		t.Run(name, func(t *testing.T) {
			h := ready(t)
			spoil(h)
			r := h.ask()
			if r.GetPermit() != nil || !slices.Contains(names(r.GetReasons()), name) {
				t.Errorf("asked: %v, want %s", r, name)
			}
			for _, x := range r.GetReasons() {
				if x.GetText() == "" || x.GetSubject() == "" {
					t.Errorf("a bare reason: %v", x)
				}
			}
			if got := h.permits(); len(got) != 0 {
				t.Errorf("permits: %v", got)
			}
		})
	}
}

// A permit that runs is taken back by the next look, with the ground's name,
// and does not come back by itself, nor when the ground does.
func TestAPermitIsTakenBackWhenAGroundFallsAway(t *testing.T) {
	for name, spoil := range holds {
		t.Run(name, func(t *testing.T) {
			if name == floor.HoldLoadSprayed {
				t.Skip("spraying uses the permit up")
			}
			h := ready(t)
			id := h.permit().GetPermitId()
			if got := h.state().GetSign(); got != boothv1.Sign_SIGN_CLEAR {
				t.Fatalf("sign %s with a permit", got)
			}
			spoil(h)
			if r, err := h.GetGate(h.ctx(), &boothv1.GetGateRequest{BoothId: "booth-1"}); err == nil && r.GetGate().GetSign() != boothv1.Sign_SIGN_HOLD {
				t.Errorf("sign %s before the look", r.GetGate().GetSign())
			}
			h.step()
			got := h.permits()
			if len(got) != 2 || !slices.ContainsFunc(got[1:], func(s string) bool { return has(s, name) }) {
				t.Fatalf("permits: %v, want revoked for %s", got, name)
			}
			h.fault = nil
			h.wait(5 * time.Minute)
			if got := h.permits(); len(got) != 2 {
				t.Errorf("permits afterwards: %v", got)
			}
			if _, err := h.ReturnPermit(h.ctx(), &boothv1.ReturnPermitRequest{Stamp: h.painter(), PermitId: id}); fault.KindOf(err) != fault.NotFound {
				t.Errorf("giving it back: %v", err)
			}
		})
	}
}

func has(revoked, name string) bool {
	_, reasons, _ := strings.Cut(revoked, " ")
	return slices.Contains(strings.Split(reasons, ","), name)
}

// A fact that is withdrawn takes the permit that leant on it back.
func TestAWithdrawnFactTakesThePermitBack(t *testing.T) {
	h := ready(t)
	h.permit()
	h.withdraw(&jobsv1.BeadLaid{SeamId: seam})
	h.step()
	if got := h.permits(); !slices.Equal(got, []string{"issued", "revoked " + floor.HoldNotLaid}) {
		t.Errorf("permits: %v", got)
	}
}

// A reading that went stale while the journal could not be written: the
// permit is lost though the reading is fresh again before it can be told.
func TestAPermitThatCouldNotBeTakenBackHoldsAllTheSame(t *testing.T) {
	h := ready(t)
	j := &stuck{Journal: h.Journal}
	d := h.other(j)
	g := booth.NewGate(d, booth.Options{Holder: "gate-b"})
	b := h.serve(d, g)
	if _, err := g.Step(t.Context(), h.Time.Now()); err != nil {
		t.Fatal(err)
	}
	ask := func() (*boothv1.RequestPermitResponse, error) {
		return b.RequestPermit(t.Context(), &boothv1.RequestPermitRequest{Stamp: h.painter(), BoothId: "booth-1", LoadId: "2207-A", Untouched: true})
	}
	if r, err := ask(); err != nil || r.GetPermit() == nil {
		t.Fatal(r, err)
	}
	if err := h.Writer.Step(t.Context()); err != nil {
		t.Fatal(err)
	}
	h.pass(16 * time.Minute)
	j.on = true
	if _, err := g.Step(t.Context(), h.Time.Now().Add(-7*time.Minute)); fault.KindOf(err) != fault.Unavailable {
		t.Fatalf("a look that cannot be told: %v", err)
	}
	j.on = false
	h.read(21)
	if err := d.Writer.Step(t.Context()); err != nil {
		t.Fatal(err)
	}
	r, err := b.GetGate(t.Context(), &boothv1.GetGateRequest{BoothId: "booth-1"})
	if err != nil || r.GetGate().GetSign() != boothv1.Sign_SIGN_HOLD || len(r.GetGate().GetReasons()) == 0 {
		t.Errorf("%v, %v; want HOLD with its reasons", r, err)
	}
	if _, err := g.Step(t.Context(), h.Time.Now()); err != nil {
		t.Fatal(err)
	}
	if err := h.Writer.Step(t.Context()); err != nil {
		t.Fatal(err)
	}
	if got := h.permits(); len(got) != 2 || got[0] != "issued" || got[1] == "issued" {
		t.Errorf("permits: %v", got)
	}
}

// A clock that was set back holds, also where the answer is only shown.
func TestAClockThatWasSetBackHolds(t *testing.T) {
	h := ready(t)
	h.permit()
	back := h.other(h.Journal)
	back.Clock = recordtest.New().Time // at the beginning again
	g := booth.NewGate(back, booth.Options{Holder: "gate-a"})
	b := h.serve(back, g)
	r, err := b.GetGate(t.Context(), &boothv1.GetGateRequest{BoothId: "booth-1"})
	if err != nil || r.GetGate().GetSign() != boothv1.Sign_SIGN_HOLD || !slices.Contains(names(r.GetGate().GetReasons()), floor.HoldClock) {
		t.Errorf("shown: %v, %v", r, err)
	}
	if _, err := g.Step(t.Context(), back.Clock.Now()); err != nil {
		t.Fatal(err)
	}
	if err := h.Writer.Step(t.Context()); err != nil {
		t.Fatal(err)
	}
	if got := h.permits(); len(got) != 2 || !has(got[1], floor.HoldClock) {
		t.Errorf("permits: %v", got)
	}
}

// The gate is asked with the moment of its call, but a fact may be heard
// between that moment and the look. That is no clock that was set back.
func TestAFactHeardDuringTheLookIsNoClockInDoubt(t *testing.T) {
	h := ready(t)
	h.permit()
	called := h.Time.Now()
	h.pass(20 * time.Millisecond)
	h.Tell(t, &jobsv1.PhotoAttached{SeamId: seam, Sha256: zeros, MediaType: "image/jpeg"})
	if _, err := h.gate.Step(t.Context(), called); err != nil {
		t.Fatal(err)
	}
	if got := h.permits(); !slices.Equal(got, []string{"issued"}) {
		t.Errorf("permits: %v", got)
	}
	if got := h.state().GetSign(); got != boothv1.Sign_SIGN_CLEAR {
		t.Errorf("sign %s", got)
	}
}

// Nor is a fact that was heard earlier in the same millisecond.
func TestAFactOfTheSameMillisecondIsNoClockInDoubt(t *testing.T) {
	h := ready(t)
	h.pass(700 * time.Microsecond)
	if _, err := h.Writer.Do(t.Context(), func(seq uint64) ([]floor.Event, error) {
		ev, _, _ := h.Floor.Event(seq)
		ev.CommandID, ev.Received = "another-writer", h.Time.Now()
		return []floor.Event{ev}, nil
	}); err != nil {
		t.Fatal(err)
	}
	h.pass(100 * time.Microsecond)
	h.permit()
}

// stuck is a journal that at times does not answer.
type stuck struct {
	journal.Journal
	on bool
}

func (s *stuck) Append(ctx context.Context, expect uint64, recs ...journal.Record) (uint64, error) {
	if s.on {
		return 0, journal.Unsure(expect, errors.New("no answer"))
	}
	return s.Journal.Append(ctx, expect, recs...)
}

// other is another process on the same journal, with the same time.
func (h *house) other(j journal.Journal) *record.Desk {
	h.t.Helper()
	f := floor.New()
	d := &record.Desk{Writer: journal.NewWriter(j, f), Floor: f, Clock: h.Time}
	if err := d.Writer.Step(h.ctx()); err != nil {
		h.t.Fatal(err)
	}
	return d
}
