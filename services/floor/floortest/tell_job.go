package floortest

import (
	"crypto/sha256"
	"encoding/hex"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/floor"
)

// need reads a word of the trade.
func need[E interface {
	protoreflect.Enum
	comparable
}](what, word string) E {
	var zero E
	e := floor.Enum[E](word)
	if e == zero && word != "unknown" {
		wrong("%q is no %s", word, what)
	}
	return e
}

// oneOf takes the first left word that belongs to a vocabulary.
func oneOf[E interface {
	protoreflect.Enum
	comparable
}](w *words) E {
	var zero E
	for i, t := range w.left {
		if e := floor.Enum[E](t); e != zero {
			w.left = append(w.left[:i:i], w.left[i+1:]...)
			return e
		}
	}
	return zero
}

func duration(d time.Duration) *durationpb.Duration {
	if d == 0 {
		return nil
	}
	return durationpb.New(d)
}

var jobFacts = map[string]func(*Script, *words) proto.Message{
	"job":     openJob,
	"deliver": func(_ *Script, w *words) proto.Message { return &jobsv1.JobDelivered{Ro: w.take("a job")} },
	"cancel": func(_ *Script, w *words) proto.Message {
		return &jobsv1.JobCancelled{Why: because(w), Ro: w.take("a job")}
	},
	"car": func(_ *Script, w *words) proto.Message {
		return &jobsv1.CarMoved{Ro: w.take("a job"), ZoneId: w.take("a zone")}
	},
	"panel": func(_ *Script, w *words) proto.Message {
		off := w.has("off")
		return &jobsv1.PanelMoved{Ro: w.take("a job"), Panel: w.take("a panel"), ZoneId: w.take("a zone"), OffCar: off}
	},
}

// openJob takes "2207 red-hatchback colour red coats waterborne promised 16:00".
func openJob(s *Script, w *words) proto.Message {
	b := &jobsv1.JobOpened{Ro: w.take("a job"), Vehicle: w.take("a vehicle")}
	b.Vin, _ = w.named("vin")
	b.PaintColour, _ = w.named("colour")
	b.Weight, _ = w.number("weight")
	if text, ok := w.named("promised"); ok {
		b.Promised = timestamppb.New(s.moment(split(text)))
	}
	if coats, ok := w.named("coats"); ok {
		for _, c := range list(coats) {
			b.Coats = append(b.Coats, need[floorv1.Coat]("coat", c))
		}
	}
	return b
}

var seamFacts = map[string]func(*Script, *words) proto.Message{
	"survey":    survey,
	"plan":      plan,
	"procedure": procedure,
	"prep": func(_ *Script, w *words) proto.Message {
		c := w.opt("surface")
		return &jobsv1.SurfacePrepped{SeamId: w.take("a seam"), Substrate: oneOf[floorv1.Substrate](w), SurfaceTempC: c}
	},
	"undercoat": func(_ *Script, w *words) proto.Message {
		return &jobsv1.CoatApplied{
			Lasted: duration(w.length("over")), DryMin: w.length("dry").Minutes(), RecoatMin: w.length("recoat").Minutes(),
			SeamIds: list(w.take("seams")), Layer: &jobsv1.CoatApplied_Under{Under: need[floorv1.Substrate]("substrate", w.take("a substrate"))},
		}
	},
	"coat": func(_ *Script, w *words) proto.Message {
		load, _ := w.named("load")
		return &jobsv1.CoatApplied{
			LoadId: load, Lasted: duration(w.length("over")), SeamIds: list(w.take("seams")),
			Layer: &jobsv1.CoatApplied_Over{Over: need[floorv1.Coat]("coat", w.take("a coat"))},
		}
	},
	"lay": lay,
	"run": run,
	"tool": func(_ *Script, w *words) proto.Message {
		return &jobsv1.BeadTooled{SeamId: w.take("a seam"), How: strings.Join(takeAll(w), " ")}
	},
	"deair": func(_ *Script, w *words) proto.Message { return &jobsv1.BeadDeaired{SeamId: w.take("a seam")} },
	"disturb": func(_ *Script, w *words) proto.Message {
		return &jobsv1.BeadDisturbed{How: because(w), SeamId: w.take("a seam")}
	},
	"scuff": func(_ *Script, w *words) proto.Message { return &jobsv1.SeamScuffed{SeamId: w.take("a seam")} },
	"heat": func(_ *Script, w *words) proto.Message {
		return &jobsv1.HeatApplied{
			Lasted: duration(w.length("over")), SurfaceTempC: w.opt("surface"), SourceTempC: w.opt("source"), SeamIds: list(w.take("seams")),
		}
	},
	"wax": func(_ *Script, w *words) proto.Message { return &jobsv1.WaxApplied{SeamId: w.take("a seam")} },
	"water-test": func(_ *Script, w *words) proto.Message {
		return &jobsv1.WaterTested{Tight: w.has("tight"), SeamId: w.take("a seam"), Note: strings.Join(takeAll(w), " ")}
	},
	"inspect": func(_ *Script, w *words) proto.Message {
		return &jobsv1.SeamInspected{Accepted: w.has("accepted"), SeamId: w.take("a seam"), Note: strings.Join(takeAll(w), " ")}
	},
	"photo": func(_ *Script, w *words) proto.Message {
		sum := sha256.Sum256([]byte(strings.Join(w.left, " ")))
		return &jobsv1.PhotoAttached{
			SeamId: w.take("a seam"), Caption: strings.Join(takeAll(w), " "), MediaType: "image/jpeg", Sha256: hex.EncodeToString(sum[:]),
		}
	},
	"rework": func(_ *Script, w *words) proto.Message {
		return &jobsv1.SeamReworked{Why: because(w), SeamId: w.take("a seam")}
	},
	"elsewhere": func(_ *Script, w *words) proto.Message {
		who, _ := w.named("by")
		paper, _ := w.named("paper")
		return &jobsv1.DoneElsewhere{SeamId: w.take("a seam"), Stage: need[floorv1.Stage]("stage", w.take("a stage")), Who: who, Paper: paper}
	},
	"observe": func(_ *Script, w *words) proto.Message {
		return &curesv1.StageObserved{SeamId: w.take("a seam"), Clock: need[floorv1.Clock]("clock", w.take("a clock"))}
	},
}

func takeAll(w *words) []string {
	all := w.left
	w.left = nil
	return all
}

// survey takes "2207/rd-l "roof ditch" L panel roof level coated epoxy-primer
// length 1200 like self-levelling levelled grey 12x2 before-tear-down".
func survey(_ *Script, w *words) proto.Message {
	b := &jobsv1.SeamSurveyed{Hidden: w.has("hidden"), DrainHolesNear: w.has("drain-holes")}
	if mm, ok := w.number("sheet"); ok {
		b.SheetMm = &mm
	}
	if text, ok := w.after("like"); ok {
		b.Reference = reference(split(text))
	}
	b.Panel, _ = w.named("panel")
	b.LengthMm, _ = w.number("length")
	b.SeamId, b.Place = w.take("a seam"), w.take("a place")
	b.Orientation, b.Finish, b.Substrate = oneOf[floorv1.Orientation](w), oneOf[floorv1.Finish](w), oneOf[floorv1.Substrate](w)
	b.Side = w.maybe()
	return b
}

func reference(w *words) *floorv1.Reference {
	r := &floorv1.Reference{
		Source: oneOf[floorv1.ReferenceSource](w), Class: oneOf[floorv1.SealerClass](w), Profile: oneOf[floorv1.Profile](w),
	}
	for _, t := range takeAll(w) {
		if strings.ContainsAny(t, "0123456789") {
			r.WidthMm, r.HeightMm = size(t)
			continue
		}
		r.Colour = t
	}
	return r
}

// plan takes "2207/rd-l sl-grey levelled 12x2 direct-bead 30ml".
func plan(_ *Script, w *words) proto.Message {
	b := &jobsv1.SeamPlanned{SeamId: w.take("a seam"), ProductId: w.take("a product"), Profile: oneOf[floorv1.Profile](w)}
	b.Technique = oneOf[floorv1.Technique](w)
	b.VolumeMl, _ = w.ending("ml")
	if t := w.maybe(); t != "" {
		b.WidthMm, b.HeightMm = size(t)
	}
	return b
}

func procedure(_ *Script, w *words) proto.Message {
	over, _ := w.named("sets-aside")
	b := &jobsv1.ProcedureRecorded{SeamId: w.take("a seam"), Text: w.take("what it says")}
	if over != "" {
		b.Overrides = list(over)
	}
	return b
}

// lay takes "2207/rd-l bed cartridge C1 nozzle N1 30ml over 2m surface 19".
func lay(_ *Script, w *words) proto.Message {
	b := &jobsv1.BeadLaid{Layer: oneOf[floorv1.Layer](w), Technique: oneOf[floorv1.Technique](w), Profile: oneOf[floorv1.Profile](w)}
	if b.Layer == 0 {
		b.Layer = floorv1.Layer_LAYER_BEAD
	}
	b.CartridgeId, _ = w.named("cartridge")
	b.NozzleId, _ = w.named("nozzle")
	b.Lasted, b.SurfaceTempC = duration(w.length("over")), w.opt("surface")
	if v, ok := w.ending("ml"); ok {
		b.VolumeMl = &v
	}
	b.SeamId = w.take("a seam")
	return b
}

// run takes "cartridge C1 nozzle N1 seams 2207/a 2207/b each 2m 20ml gap 1m":
// seams laid one after the other, the last one just now.
func run(_ *Script, w *words) proto.Message {
	b := &jobsv1.RunLaid{}
	b.CartridgeId, _ = w.named("cartridge")
	b.NozzleId, _ = w.named("nozzle")
	each, gap := w.length("each"), w.length("gap")
	ml, told := w.ending("ml")
	if w.take("seams") != "seams" {
		wrong("run cartridge ... nozzle ... seams ... each 2m 20ml gap 1m")
	}
	seams := takeAll(w)
	for i, id := range seams {
		p := &jobsv1.RunLaid_Pass{
			SeamId: id, Layer: floorv1.Layer_LAYER_BEAD, Lasted: duration(each),
			EndedBefore: durationpb.New(time.Duration(len(seams)-1-i) * (each + gap)),
		}
		if told {
			p.VolumeMl = &ml
		}
		b.Passes = append(b.Passes, p)
	}
	return b
}
