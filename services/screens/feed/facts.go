package feed

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/calc/spec"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// longest is the longest work that one press tells of.
const longest = 24 * time.Hour

// seamFact makes the fact of a press about a seam out of its fields alone;
// nil for a kind that needs a look at the floor.
func seamFact(k screens.Kind, seam string, f *fields) proto.Message {
	switch k {
	case screens.DoPlan:
		return planFact(seam, f)
	case screens.DoPrep:
		return &jobsv1.SurfacePrepped{SeamId: seam, Substrate: word[floorv1.Substrate](f, "substrate"), SurfaceTempC: f.number("surface_temp_c", -40, 200, "°C")}
	case screens.DoCoat:
		return coatFact(seam, f)
	case screens.DoTool:
		return &jobsv1.BeadTooled{SeamId: seam, How: f.text("tool")}
	case screens.DoDeair:
		return &jobsv1.BeadDeaired{SeamId: seam}
	case screens.DoDisturbed:
		return &jobsv1.BeadDisturbed{SeamId: seam, How: f.need("reason", "what happened to the bead")}
	case screens.DoScuff:
		return &jobsv1.SeamScuffed{SeamId: seam}
	case screens.DoHeat:
		return &jobsv1.HeatApplied{SeamIds: []string{seam}, Lasted: f.minutes("minutes", longest), SurfaceTempC: f.number("surface_temp_c", -40, 200, "°C")}
	case screens.DoRedo:
		return &jobsv1.SeamReworked{SeamId: seam, Why: f.need("reason", "why the bead was taken off")}
	case screens.DoWax:
		return &jobsv1.WaxApplied{SeamId: seam}
	case screens.DoWaterTest:
		return &jobsv1.WaterTested{SeamId: seam, Tight: f.yes("passed"), Note: notes(f.text("reason"), minutesNote(f), f.text("note"))}
	case screens.DoInspect:
		return inspectFact(seam, f)
	case screens.DoElsewhere:
		return &jobsv1.DoneElsewhere{
			SeamId: seam, Stage: word[floorv1.Stage](f, "stage"), Who: f.need("who", "who did it"), Paper: f.need("paper", "the paper that proves it"),
		}
	}
	return nil
}

func planFact(seam string, f *fields) proto.Message {
	p := &jobsv1.SeamPlanned{
		SeamId: seam, ProductId: f.need("product", "one of the shop's products"), Profile: word[floorv1.Profile](f, "profile"),
		Technique: word[floorv1.Technique](f, "technique"), Nozzle: f.text("nozzle"),
	}
	for name, to := range map[string]*float64{"width_mm": &p.WidthMm, "height_mm": &p.HeightMm} {
		if v := f.number(name, 0, 500, "mm"); v != nil {
			*to = *v
		}
	}
	if v := f.number("volume_ml", 0, 10000, "ml"); v != nil {
		p.VolumeMl = *v
	}
	return p
}

// coatFact: a coat over the sealer, or an undercoat by the surface it makes.
func coatFact(seam string, f *fields) proto.Message {
	c := &jobsv1.CoatApplied{SeamIds: []string{seam}, Product: f.text("product")}
	coat := f.need("coat", "what was sprayed")
	switch {
	case coat == "":
	case spec.Known(spec.Coat(coat), spec.Coats()):
		c.Layer = &jobsv1.CoatApplied_Over{Over: floor.Enum[floorv1.Coat](coat)}
	case floor.Enum[floorv1.Substrate](coat) != floorv1.Substrate_SUBSTRATE_UNSPECIFIED:
		c.Layer = &jobsv1.CoatApplied_Under{Under: floor.Enum[floorv1.Substrate](coat)}
	default:
		f.fail(fault.Bad("coat", coat, "a kind of coat or undercoat of the list; pick one"))
	}
	return c
}

func inspectFact(seam string, f *fields) proto.Message {
	i := &jobsv1.SeamInspected{
		SeamId: seam, Accepted: f.yes("passed"), WidthMm: f.number("width_mm", 0, 500, "mm"), HeightMm: f.number("height_mm", 0, 100, "mm"),
	}
	colour := ""
	if v := f.number("delta_e", 0, 200, "CIEDE2000"); v != nil {
		colour = "colour difference " + number(*v)
	}
	i.Note = notes(f.text("reason"), colour, f.text("note"))
	return i
}

func minutesNote(f *fields) string {
	if v := f.number("minutes", 0, longest.Minutes(), "minutes"); v != nil {
		return "tested for " + number(*v) + " min"
	}
	return ""
}

func notes(parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), "; ")
}

// floorFact makes the fact of a press that names things of the floor: the
// nozzle on a cartridge, the next free number, a fact to take back.
func (s *Source) floorFact(ctx context.Context, a screens.Action, seam string, f *fields) (proto.Message, error) {
	var out proto.Message
	err := s.look(ctx, 0, func(v *view) (err error) {
		switch a.Kind {
		case screens.DoLay:
			out = v.layFact(floorv1.Layer_LAYER_BEAD, seam, f)
		case screens.DoLayBed:
			out = v.layFact(floorv1.Layer_LAYER_BED, seam, f)
		case screens.DoCarMoved:
			out = &jobsv1.CarMoved{Ro: a.RO, ZoneId: f.need("zone", "where the car is now")}
		case screens.DoWithdraw:
			out, err = v.withdrawFact(a, f)
		case screens.DoCorrect:
			out, err = v.correctFact(a, seam, f)
		default:
			out = v.cartridgeFact(a, seam, f)
		}
		return err
	})
	if err == nil && a.Kind == screens.DoDispose {
		return s.answerFact(ctx, a, f)
	}
	return out, err
}

func (v *view) layFact(layer floorv1.Layer, seam string, f *fields) proto.Message {
	b := &jobsv1.BeadLaid{
		SeamId: seam, Layer: layer, CartridgeId: f.text("cartridge"), NozzleId: f.text("nozzle"), Technique: word[floorv1.Technique](f, "technique"),
		VolumeMl: f.number("volume_ml", 0, 10000, "ml"), Lasted: f.minutes("minutes", longest),
	}
	if layer == floorv1.Layer_LAYER_BEAD {
		b.Profile = word[floorv1.Profile](f, "profile")
	}
	if c := v.f.Cartridge(floor.CartridgeID(b.GetCartridgeId())); c != nil && b.GetNozzleId() == "" {
		b.NozzleId = string(c.Nozzle)
	}
	return b
}

// cartridgeFact makes a fact about a cartridge; nil for another kind. A
// cartridge or nozzle without a number gets the shop's next one.
func (v *view) cartridgeFact(a screens.Action, seam string, f *fields) proto.Message {
	if a.Kind == screens.DoOpenCartridge {
		id := f.text("cartridge")
		if id == "" {
			id = nextID("C", v.f.Cartridges())
		}
		return &materialsv1.CartridgeOpened{CartridgeId: id, LotId: f.need("lot", "the lot number on the cartridge")}
	}
	kinds := []screens.Kind{
		screens.DoEqualise, screens.DoFitNozzle, screens.DoPurge, screens.DoNozzleOff, screens.DoStore, screens.DoWeigh, screens.DoEmpty,
	}
	if !slices.Contains(kinds, a.Kind) {
		return nil
	}
	id := f.need("cartridge", "the cartridge's number")
	c := v.f.Cartridge(floor.CartridgeID(id))
	nozzle := ""
	if c != nil {
		nozzle = string(c.Nozzle)
	}
	switch a.Kind {
	case screens.DoEqualise:
		return &materialsv1.CartridgeEqualised{CartridgeId: id}
	case screens.DoFitNozzle:
		return v.fitFact(id, seam, f)
	case screens.DoPurge:
		return &materialsv1.CartridgePurged{CartridgeId: id, VolumeMl: f.number("volume_ml", 0, 1000, "ml")}
	case screens.DoNozzleOff:
		if nozzle == "" {
			f.fail(fault.Bad("cartridge", id, "has no nozzle on by the book; tell first that one was fitted"))
		}
		return &materialsv1.NozzleRemoved{NozzleId: nozzle}
	case screens.DoStore:
		return &materialsv1.CartridgeStored{CartridgeId: id, NozzleOn: nozzle != ""}
	case screens.DoWeigh:
		w := &materialsv1.CartridgeWeighed{CartridgeId: id, Marked: true}
		switch how := f.text("how"); how {
		case "", "marked":
		case "weighed":
			w.Marked = false
		default:
			f.fail(fault.Bad("how", how, "marked or weighed"))
		}
		if ml := f.number("volume_ml", 0, 10000, "ml"); ml != nil {
			w.RemainingMl = *ml
		} else {
			f.need("volume_ml", "what is left in ml")
		}
		return w
	}
	return &materialsv1.CartridgeEmptied{CartridgeId: id, Discarded: c == nil || c.Remaining.ML() > 0}
}

// fitFact: the nozzle is of the kind that the seam's plan asks for, cut as
// told.
func (v *view) fitFact(cartridge, seam string, f *fields) proto.Message {
	n := &materialsv1.NozzleFitted{CartridgeId: cartridge, NozzleId: f.text("nozzle")}
	if n.NozzleId == "" {
		n.NozzleId = nextID("N", v.f.Nozzles())
	}
	if s := v.f.Seam(floor.SeamID(seam)); s != nil {
		n.Kind = v.beadOf(s).Nozzle
	}
	n.HoldUpMl = f.number("hold_up_ml", 0, 1000, "ml")
	if cut := f.number("cut_mm", 0, 100, "mm"); cut != nil {
		kind, _, _ := strings.Cut(n.Kind, " cut at ")
		n.Kind = strings.TrimSpace(fmt.Sprintf("%s cut at %s mm", kind, number(*cut)))
	}
	return n
}

// answerFact is a foreman's answer to a finding, proved by a PIN.
func (s *Source) answerFact(ctx context.Context, a screens.Action, f *fields) (proto.Message, error) {
	m := &jobsv1.FindingDisposed{
		FindingId: f.need("finding", "the finding that is answered"), Disposition: word[floorv1.Disposition](f, "disposition"), Reason: f.need("reason", "why"),
	}
	pin := f.need("pin", "the foreman's PIN")
	if err := f.done(); err != nil {
		return nil, err
	}
	if s.opt.People == nil {
		return nil, fault.New(fault.Denied, "no-people", "this shop has no people with PINs", "enter the foreman in the people file")
	}
	p, err := s.opt.People.Check(ctx, a.Actor, pin, s.opt.Desk.Clock.Now())
	if err != nil {
		return nil, err
	}
	if p.Role != floor.Foreman {
		return nil, fault.New(fault.Denied, "not-a-foreman", fmt.Sprintf("%s is a %s; a finding is answered by a foreman", p.Name, p.Role), "pick the foreman's name at this screen")
	}
	return m, nil
}
