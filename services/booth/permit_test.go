package booth_test

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/booth"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/journal"
)

// between is a journal in which others are heard right before a permit is
// stored, after it was decided.
type between struct {
	journal.Journal
	first func()
}

func (b *between) Append(ctx context.Context, expect uint64, recs ...journal.Record) (uint64, error) {
	if first := b.first; first != nil && strings.HasSuffix(recs[0].Type, "PermitIssued") {
		b.first = nil
		first()
	}
	return b.Journal.Append(ctx, expect, recs...)
}

// Nothing comes between the look and the leave: a fact of another process
// that is stored first is part of the decision.
func TestAPermitStandsBehindExactlyWhatItsDecisionSaw(t *testing.T) {
	for name, c := range map[string]struct {
		fact func(*house)
		held string
	}{
		"a bead disturbed": {func(h *house) { h.at(&jobsv1.BeadDisturbed{SeamId: seam, How: "a sleeve"}) }, floor.HoldStop},
		"a booth fault":    {func(h *house) { h.Tell(h.t, &boothv1.BoothFaulted{BoothId: "booth-1", What: "fan"}) }, floor.HoldBoothFault},
		"another's permit": {func(h *house) { h.permit() }, floor.HoldBoothPermitted},
		"a picture": {func(h *house) {
			h.at(&jobsv1.PhotoAttached{SeamId: seam, Sha256: zeros, MediaType: "image/jpeg"})
		}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			h := ready(t)
			j := &between{Journal: h.Journal}
			d := h.other(j)
			b := h.serve(d, booth.NewGate(d, booth.Options{Holder: "gate-b"}))
			j.first = func() { c.fact(h) }
			r, err := b.RequestPermit(t.Context(), &boothv1.RequestPermitRequest{Stamp: h.painter(), BoothId: "booth-1", LoadId: "2207-A", Untouched: true})
			if err != nil || j.first != nil {
				t.Fatal(r, err)
			}
			if held := r.GetPermit() == nil; held != (c.held != "") || held && !slices.Contains(names(r.GetReasons()), c.held) {
				t.Errorf("%v, want it held for %q", r, c.held)
			}
			if r.GetPermit() == nil {
				return
			}
			ev, _, _ := d.Floor.Event(r.GetSequence())
			if p := ev.Body.(*boothv1.PermitIssued); p.GetSeen() != ev.Seq-1 {
				t.Errorf("permit %d was decided at %d", ev.Seq, p.GetSeen())
			}
		})
	}
}

func TestOnePermitPerBoothAndPerLoad(t *testing.T) {
	h := ready(t)
	h.permit()
	if r := h.ask(); r.GetPermit() != nil || !slices.Equal(names(r.GetReasons()), []string{floor.HoldBoothPermitted}) {
		t.Errorf("a second permit at the booth: %v", r)
	}
	h.Tell(t, &boothv1.LoadPlanned{LoadId: "2207-A", BoothId: "booth-2", Ro: "2207", SeamIds: []string{seam}})
	r, err := h.RequestPermit(t.Context(), &boothv1.RequestPermitRequest{Stamp: h.painter(), BoothId: "booth-2", LoadId: "2207-A"})
	if err != nil || r.GetPermit() != nil || !slices.Contains(names(r.GetReasons()), floor.HoldBoothPermitted) {
		t.Errorf("a second permit for the load at another booth: %v, %v", r, err)
	}
}

func TestALeaseEnds(t *testing.T) {
	h := ready(t)
	p := h.permit()
	if got := p.GetStartBy().AsTime().Sub(h.Time.Now()); got != 30*time.Minute {
		t.Errorf("lease %s", got)
	}
	h.wait(30 * time.Minute)
	if got := h.permits(); !slices.Equal(got, []string{"issued"}) {
		t.Errorf("at the lease's last moment: %v", got)
	}
	h.pass(time.Millisecond)
	if s := h.state(); s.GetSign() != boothv1.Sign_SIGN_HOLD || !slices.Equal(names(s.GetReasons()), []string{booth.EndedExpired}) {
		t.Errorf("past it, before the look: %v", s)
	}
	h.step()
	if got := h.permits(); !slices.Equal(got, []string{"issued", "revoked " + booth.EndedExpired}) {
		t.Errorf("permits: %v", got)
	}
}

// A service that takes over first takes back what its predecessor gave; one
// that runs beside it leaves the other's permits to it and shows HOLD.
func TestANewHolderFirstTakesBack(t *testing.T) {
	h := ready(t)
	h.permit()
	d := h.other(h.Journal)
	beside := booth.NewGate(d, booth.Options{Holder: "gate-b"})
	b := h.serve(d, beside)
	r, err := b.GetGate(t.Context(), &boothv1.GetGateRequest{BoothId: "booth-1"})
	if err != nil || r.GetGate().GetSign() != boothv1.Sign_SIGN_HOLD || !slices.Equal(names(r.GetGate().GetReasons()), []string{booth.HeldElsewhere}) {
		t.Errorf("another's permit is shown as %v, %v", r, err)
	}
	if _, err := beside.Step(t.Context(), h.Time.Now()); err != nil {
		t.Fatal(err)
	}
	if err := h.Writer.Step(t.Context()); err != nil {
		t.Fatal(err)
	}
	if got := h.permits(); !slices.Equal(got, []string{"issued", "revoked " + booth.EndedNewHolder}) {
		t.Fatalf("permits: %v", got)
	}
	h.permit() // of the old one again, which runs on
	if err := d.Writer.Step(t.Context()); err != nil {
		t.Fatal(err)
	}
	if _, err := beside.Step(t.Context(), h.Time.Now()); err != nil {
		t.Fatal(err)
	}
	if got := h.permits(); len(got) != 3 {
		t.Errorf("once begun, it took another's back: %v", got)
	}
}

func TestAPermitIsReturnedOnce(t *testing.T) {
	h := ready(t)
	id := h.permit().GetPermitId()
	req := &boothv1.ReturnPermitRequest{Stamp: h.painter(), PermitId: id}
	first, err := h.ReturnPermit(t.Context(), req)
	if err != nil {
		t.Fatal(err)
	}
	again, err := h.ReturnPermit(t.Context(), req)
	if err != nil || again.GetSequence() != first.GetSequence() {
		t.Errorf("the same command again: %v, %v; want %d", again, err, first.GetSequence())
	}
	if got := h.permits(); !slices.Equal(got, []string{"issued", "revoked " + booth.EndedReturned}) {
		t.Errorf("permits: %v", got)
	}
	h.permit() // asked again, it is given again
}

func TestSprayingUsesThePermitUp(t *testing.T) {
	h := ready(t)
	id := h.permit().GetPermitId()
	r, err := h.Record(t.Context(), &boothv1.RecordRequest{Stamp: h.painter(), Fact: &boothv1.RecordRequest_SprayStarted{
		SprayStarted: &boothv1.SprayStarted{BoothId: "booth-1", LoadId: "2207-A", PermitId: id},
	}})
	if err != nil || len(r.GetReceipt().GetFindings()) > 0 {
		t.Errorf("sprayed under a permit: %v, %v", r, err)
	}
	h.at(&jobsv1.BeadDisturbed{SeamId: seam, How: "a sleeve"}) // what goes wrong after is a finding
	h.step()
	s := h.state()
	if s.GetPermit() != nil || s.GetSign() != boothv1.Sign_SIGN_HOLD || s.GetPhase() != boothv1.Phase_PHASE_SPRAYING {
		t.Errorf("while spraying: %v", s)
	}
	if got := h.permits(); !slices.Equal(got, []string{"issued"}) {
		t.Errorf("permits: %v", got)
	}
}

func TestTheSameCommandGivesOnePermit(t *testing.T) {
	h := ready(t)
	req := &boothv1.RequestPermitRequest{Stamp: h.painter(), BoothId: "booth-1", LoadId: "2207-A"}
	first, err := h.RequestPermit(t.Context(), req)
	if err != nil || first.GetPermit() == nil {
		t.Fatal(first, err)
	}
	again, err := h.RequestPermit(t.Context(), req)
	if err != nil || again.GetPermit().GetPermitId() != first.GetPermit().GetPermitId() || again.GetSequence() != first.GetSequence() {
		t.Errorf("again: %v, %v; want %v", again, err, first)
	}
	for name, spoil := range map[string]func(*boothv1.RequestPermitRequest){
		"another load":  func(r *boothv1.RequestPermitRequest) { r.LoadId = "2207-B" },
		"another booth": func(r *boothv1.RequestPermitRequest) { r.BoothId = "booth-2" },
		"a fact's id":   func(r *boothv1.RequestPermitRequest) { r.Stamp.CommandId = "test-000001" },
	} {
		other := &boothv1.RequestPermitRequest{Stamp: h.painter(), BoothId: "booth-1", LoadId: "2207-A"}
		other.Stamp.CommandId = req.Stamp.CommandId
		spoil(other)
		if r, err := h.RequestPermit(t.Context(), other); !fault.Is(err, "command-id-reused") {
			t.Errorf("%s: %v, %v", name, r, err)
		}
	}
	h.at(&jobsv1.BeadDisturbed{SeamId: seam, How: "a sleeve"})
	h.step()
	if r, err := h.RequestPermit(t.Context(), req); !fault.Is(err, "permit-ended") {
		t.Errorf("after it was revoked: %v, %v", r, err)
	}
	if got := h.permits(); len(got) != 2 {
		t.Errorf("permits: %v", got)
	}
}

// A booth whose definition was a mistake: the permit is taken back, and does
// not come back with the booth.
func TestAPermitOfABoothThatIsGone(t *testing.T) {
	h := ready(t)
	h.permit()
	h.withdraw(&boothv1.BoothDefined{BoothId: "booth-1"})
	h.step()
	h.Tell(t, &boothv1.BoothDefined{BoothId: "booth-1", ZoneId: "room", FirstCoatMin: 20, ProcessMin: 60})
	if s := h.state(); s.GetSign() != boothv1.Sign_SIGN_HOLD || s.GetPermit() != nil {
		t.Errorf("the booth is back: %v", s)
	}
}

func TestOtherServicesFactsAreRefused(t *testing.T) {
	h := ready(t)
	for _, body := range []floor.Command{
		{Stamp: h.painter(), Body: &jobsv1.JobOpened{Ro: "2208", Vehicle: "x"}},
		{Stamp: h.painter(), Body: &boothv1.PermitIssued{PermitId: "P1", BoothId: "booth-1", LoadId: "2207-A"}},
		{Stamp: h.painter(), Body: &boothv1.PermitRevoked{PermitId: "P1", BoothId: "booth-1", LoadId: "2207-A"}},
	} {
		if ev, err := booth.Decide(h.Floor, body, h.Time.Now()); fault.KindOf(err) != fault.Invalid {
			t.Errorf("%T: %v, %v", body.Body, ev, err)
		}
	}
}

// A load whose plan was withdrawn can be planned anew, though something was
// sprayed under its name.
func TestAWithdrawnPlanIsPlannedAnew(t *testing.T) {
	h := ready(t)
	h.Tell(t, &boothv1.SprayStarted{BoothId: "booth-1", LoadId: "2207-A"})
	h.withdraw(&boothv1.LoadPlanned{LoadId: "2207-A"})
	h.Tell(t, &boothv1.LoadPlanned{LoadId: "2207-A", BoothId: "booth-1", Ro: "2207", SeamIds: []string{seam}})
	if r := h.ask(); !slices.Contains(names(r.GetReasons()), floor.HoldLoadSprayed) {
		t.Errorf("asked: %v", r)
	}
}

// A permit that was taken back is told with its ground for ten minutes, beside
// whatever load is next, and until there is another. One that was given back is
// not.
func TestAPermitThatWasTakenBackIsTold(t *testing.T) {
	h := ready(t)
	id := h.permit().GetPermitId()
	if s := h.state(); s.GetLost() != nil {
		t.Errorf("while it runs: %v", s.GetLost())
	}
	h.at(&jobsv1.BeadDisturbed{SeamId: seam, How: "a sleeve brushed it"})
	h.step()
	ended := h.Time.Now()
	l := h.state().GetLost()
	if l.GetPermitId() != id || l.GetLoadId() != "2207-A" || !l.GetAt().AsTime().Equal(ended) || !strings.Contains(l.GetWhy(), "a sleeve brushed it") {
		t.Errorf("taken back at %s: %v", ended, l)
	}
	h.wait(10*time.Minute - time.Second)
	if h.state().GetLost() == nil {
		t.Error("not told any more a second before ten minutes are over")
	}
	h.wait(time.Second)
	if l := h.state().GetLost(); l != nil {
		t.Errorf("ten minutes later: %v", l)
	}

	h = ready(t)
	req := &boothv1.ReturnPermitRequest{Stamp: h.painter(), PermitId: h.permit().GetPermitId()}
	if _, err := h.ReturnPermit(t.Context(), req); err != nil {
		t.Fatal(err)
	}
	if l := h.state().GetLost(); l != nil {
		t.Errorf("given back by whoever held it: %v", l)
	}

	h = ready(t)
	h.permit()
	h.Tell(t, &boothv1.BoothFaulted{BoothId: "booth-1", What: "fan"})
	h.step()
	if h.state().GetLost() == nil {
		t.Error("the booth's fault took it back, and nobody says so")
	}
	h.Tell(t, &boothv1.BoothReset{BoothId: "booth-1"})
	h.permit()
	if l := h.state().GetLost(); l != nil {
		t.Errorf("with another permit: %v", l)
	}
}

// Where the program itself was the cause people are told that alone: what else
// it could not vouch for at that moment says nothing about the booth.
func TestWhyAPermitIsLostForPeople(t *testing.T) {
	for _, c := range []struct {
		grounds []string
		want    string
	}{
		{[]string{"bus-silent", floor.HoldGatePaused + " gate", "journal-unhealthy journal"}, "the shop's program stood still for a while"},
		{[]string{booth.EndedNewHolder}, "the shop's program was started anew, or another of its booth services took over"},
		{[]string{"open-stop seam/2207/rd-l"}, "as it was said"},
		{nil, "as it was said"},
	} {
		p := floor.Permit{Revoked: "as it was said", Grounds: c.grounds}
		if got := p.Lost(); got != c.want {
			t.Errorf("%v: %q, want %q", c.grounds, got, c.want)
		}
	}
}
