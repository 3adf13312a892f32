package feed

import (
	"fmt"
	"strconv"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/anypb"

	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// ownFact is the fact that a press takes back or corrects: one that the same
// person told.
func (v *view) ownFact(a screens.Action, f *fields) (floor.Event, error) {
	text := f.need("fact", "the number of the fact")
	seq, err := strconv.ParseUint(text, 10, 64)
	if err != nil {
		return floor.Event{}, fault.Bad("fact", text, "the number of a fact in the journal")
	}
	ev, _, ok := v.f.Event(seq)
	if !ok {
		return ev, fault.Missing("fact", text, "reload the page")
	}
	if ev.Actor != a.Actor && ev.CommandID != a.CommandID {
		return ev, fault.New(fault.Denied, "not-your-fact", fmt.Sprintf("%s told it, not %s", ev.Actor, a.Actor), "ask "+ev.Actor+" to take it back, or the foreman to answer it")
	}
	return ev, nil
}

// withdrawFact takes back what the same person told.
func (v *view) withdrawFact(a screens.Action, f *fields) (proto.Message, error) {
	why := f.text("reason")
	if why == "" {
		why = "undone at " + a.Terminal
	}
	ev, err := v.ownFact(a, f)
	return &jobsv1.FactWithdrawn{Sequence: ev.Seq, Why: why}, err
}

// correctFact gives a laid bead another volume; the rest of it stays as it was
// told.
func (v *view) correctFact(a screens.Action, seam string, f *fields) (proto.Message, error) {
	ml, why := f.number("volume_ml", 0, 10000, "ml"), f.need("reason", "why it was another volume")
	if ml == nil {
		f.need("volume_ml", "what the bead took, in ml")
	}
	ev, err := v.ownFact(a, f)
	if err != nil {
		return nil, err
	}
	laid, ok := ev.Body.(*jobsv1.BeadLaid)
	if !ok || laid.GetSeamId() != seam {
		return nil, fault.Bad("fact", ev.Seq, "the number of a bead that was laid on this seam")
	}
	b := proto.CloneOf(laid)
	b.VolumeMl, b.PlannedMl, b.Assessment = ml, 0, nil
	packed, err := anypb.New(b)
	if err != nil {
		return nil, fault.Wrap(err, fault.Internal, "correction", "")
	}
	return &jobsv1.FactCorrected{Sequence: ev.Seq, Why: why, Body: packed}, nil
}

// correctButton mends the volume that a finding about a cartridge is about;
// nil where it was not told of one bead on this seam.
func (v *view) correctButton(s *floor.Seam, c *floor.Cartridge, finding *floor.FindingState) *screens.Button {
	ev, counts, ok := v.f.Event(finding.About)
	b, laid := ev.Body.(*jobsv1.BeadLaid)
	if !ok || !counts || !laid || finding.Rule != overdrawn || floor.SeamID(b.GetSeamId()) != s.ID || floor.CartridgeID(b.GetCartridgeId()) != c.ID {
		return nil
	}
	reason := askReason("Why")
	reason.Value = "mistyped"
	return press(screens.DoCorrect, "The bead took another volume", fmt.Sprintf("told by %s as %s ml; who told it corrects it", ev.Actor, number(b.GetVolumeMl())),
		given("fact", strconv.FormatUint(ev.Seq, 10)),
		screens.Ask{Name: "volume_ml", Label: "Volume", Type: screens.AskNumber, Unit: "ml", Min: "0", Max: "1000", Need: true}, reason)
}
