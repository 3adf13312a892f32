package feed

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// undoFor is how long the last fact may be taken back by one press.
const undoFor = 2 * time.Minute

// undo offers to withdraw the newest fact about a seam, or about the
// cartridge in hand, that was told at this terminal in the last two minutes.
// Who told it is asked at the press.
func (v *view) undo(s *floor.Seam, terminal string) (*screens.Button, time.Time) {
	var cartridge floor.CartridgeID
	if c := v.cartridge(s, terminal); c != nil {
		cartridge = c.ID
	}
	for seq := v.f.Seq(); seq > 0; seq-- {
		ev, counts, ok := v.f.Event(seq)
		if !ok || v.now.Sub(ev.Received) > undoFor {
			return nil, time.Time{}
		}
		if !counts || ev.Terminal != terminal || !v.aboutSeam(ev, s.ID) && !aboutCartridge(ev, cartridge) {
			continue
		}
		what, retractable := v.factWords(ev)
		if !retractable {
			return nil, time.Time{}
		}
		return &screens.Button{
			Kind: screens.DoWithdraw, Label: "Undo last", Hint: what, Ready: true,
			Given: []screens.Given{{Name: "fact", Value: strconv.FormatUint(seq, 10)}, {Name: "reason", Value: "undone: " + what}},
		}, ev.Received
	}
	return nil, time.Time{}
}

// aboutSeam reports whether an event is one that a person told about a seam.
func (v *view) aboutSeam(ev floor.Event, id floor.SeamID) bool {
	switch b := ev.Body.(type) {
	case *jobsv1.SeamSurveyed, *jobsv1.FactWithdrawn, *jobsv1.FactCorrected:
		return false
	case *jobsv1.FindingDisposed:
		f, ok := v.f.Finding(floor.FindingID(b.GetFindingId()))
		return ok && f.Seam() == id
	case interface{ GetSeamId() string }:
		return floor.SeamID(b.GetSeamId()) == id
	case interface{ GetSeamIds() []string }:
		for _, s := range b.GetSeamIds() {
			if floor.SeamID(s) == id {
				return true
			}
		}
	}
	return false
}

func aboutCartridge(ev floor.Event, id floor.CartridgeID) bool {
	b, ok := ev.Body.(interface{ GetCartridgeId() string })
	return ok && id != "" && floor.CartridgeID(b.GetCartridgeId()) == id
}

// factWords is a fact in a few words, and whether it may be taken back.
func (v *view) factWords(ev floor.Event) (string, bool) {
	w := strings.TrimSuffix(v.said(ev), ".")
	return lower(w), w != "" && ev.Body.ProtoReflect().Descriptor().Fields().ByName("assessment") != nil
}

// said is what was recorded, as one sentence for the person who pressed.
func (v *view) said(ev floor.Event) string {
	name := string(ev.Body.ProtoReflect().Descriptor().Name())
	w, ok := saidWords[name]
	if !ok {
		return ""
	}
	if f, ok := w.(func(floor.Event) string); ok {
		return f(ev) + " at " + v.at(ev.Occurred) + "."
	}
	return fmt.Sprintf("%s at %s.", w, v.at(ev.Occurred))
}
