package floortest

import (
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/floor"
)

var materialFacts = map[string]func(*Script, *words) proto.Message{
	"product": product,
	"lot": func(s *Script, w *words) proto.Message {
		b := &materialsv1.LotReceived{}
		b.ProductId, _ = w.named("of")
		if text, ok := w.named("expires"); ok {
			b.Expires = timestamppb.New(s.moment(split(text + " 00:00")))
		}
		n, _ := w.number("cartridges")
		b.LotId, b.Cartridges = w.take("a lot"), int32(n)
		return b
	},
	"recall": func(_ *Script, w *words) proto.Message {
		return &materialsv1.LotRecalled{Why: because(w), LotId: w.take("a lot")}
	},
	"count": func(_ *Script, w *words) proto.Message {
		return &materialsv1.StockCounted{LotId: w.take("a lot"), Cartridges: int32(number(w.take("a number")))}
	},
	"unpack": func(_ *Script, w *words) proto.Message {
		lot, _ := w.named("from")
		return &materialsv1.CartridgeOpened{CartridgeId: w.take("a cartridge"), LotId: lot}
	},
	"equalise": func(_ *Script, w *words) proto.Message {
		return &materialsv1.CartridgeEqualised{VolumeMl: ml(w), CartridgeId: w.take("a cartridge")}
	},
	"fit": func(_ *Script, w *words) proto.Message {
		on, _ := w.named("on")
		return &materialsv1.NozzleFitted{HoldUpMl: ml(w), NozzleId: w.take("a nozzle"), CartridgeId: on, Kind: strings.Join(takeAll(w), " ")}
	},
	"purge": func(_ *Script, w *words) proto.Message {
		return &materialsv1.CartridgePurged{VolumeMl: ml(w), CartridgeId: w.take("a cartridge")}
	},
	"take-off": func(_ *Script, w *words) proto.Message {
		return &materialsv1.NozzleRemoved{NozzleId: w.take("a nozzle")}
	},
	"store": func(_ *Script, w *words) proto.Message {
		return &materialsv1.CartridgeStored{NozzleOn: w.has("with-nozzle"), CartridgeId: w.take("a cartridge")}
	},
	"weigh": func(_ *Script, w *words) proto.Message {
		return &materialsv1.CartridgeWeighed{RemainingMl: *ml(w), CartridgeId: w.take("a cartridge")}
	},
	"mark": func(_ *Script, w *words) proto.Message {
		return &materialsv1.CartridgeWeighed{RemainingMl: *ml(w), Marked: true, CartridgeId: w.take("a cartridge")}
	},
	"empty": func(_ *Script, w *words) proto.Message {
		return &materialsv1.CartridgeEmptied{CartridgeId: w.take("a cartridge")}
	},
	"discard": func(_ *Script, w *words) proto.Message {
		return &materialsv1.CartridgeEmptied{CartridgeId: w.take("a cartridge"), Discarded: true}
	},
}

func ml(w *words) *float64 {
	if v, ok := w.ending("ml"); ok {
		return &v
	}
	return nil
}

// product takes "sl-grey self-levelling standard grey 200ml energy 52 at 21
// min 10 max 40 tolerance 10 gel 8 tooling 12 flow-out 15 handling 45 full
// 1440 waterborne 60..2880 after-scuff 1440 shelf 365 opened 90 for
// epoxy-primer,dtm-urethane-primer"; times in minutes, lives in days.
func product(_ *Script, w *words) proto.Message {
	c := &materialsv1.Cure{
		MinTempC: w.opt("min"), MaxTempC: w.opt("max"), NozzleGelMin: w.opt("gel"), ToolingMin: w.opt("tooling"),
		FlowOutMin: w.opt("flow-out"), HandlingMin: w.opt("handling"), FullCureMin: w.opt("full"), AfterScuffClosesMin: w.opt("after-scuff"),
	}
	c.ReferenceTempC, _ = w.number("at")
	c.TolerancePercent, _ = w.number("tolerance")
	if e, ok := w.named("energy"); ok {
		lo, hi := e, e
		if strings.Contains(e, "..") {
			lo, hi, _ = strings.Cut(e, "..")
		}
		c.ActivationLowKjMol, c.ActivationHighKjMol = number(lo), number(hi)
		c.ActivationNominalKjMol = (c.ActivationLowKjMol + c.ActivationHighKjMol) / 2
	}
	for _, coat := range []string{"primer-surfacer", "undercoat", "solventborne", "waterborne"} {
		if t, ok := w.named(coat); ok {
			lo, hi := span(t)
			c.Over = append(c.Over, &materialsv1.Cure_Window{Coat: need[floorv1.Coat]("coat", coat), OpensMin: lo, ClosesMin: hi})
		}
	}
	b := &materialsv1.ProductDefined{Cure: c, MixRatio: "1:1"}
	b.ShelfLifeDays, _ = w.number("shelf")
	b.OpenedLifeDays, _ = w.number("opened")
	b.CartridgeMl, _ = w.ending("ml")
	if on, ok := w.named("for"); ok {
		for _, t := range list(on) {
			b.Substrates = append(b.Substrates, need[floorv1.Substrate]("substrate", t))
		}
	}
	b.ProductId, b.Class, b.Build = w.take("a product"), oneOf[floorv1.SealerClass](w), oneOf[floorv1.Build](w)
	b.Name = "Demo " + b.ProductId
	b.Colour = w.maybe()
	return b
}

var placeFacts = map[string]func(*Script, *words) proto.Message{
	"zone":  zone,
	"read":  read,
	"booth": booth,
	"load":  load,
	"spray": func(s *Script, w *words) proto.Message {
		permit, _ := w.named("permit")
		b, _ := w.named("in")
		l := w.take("a load")
		return &boothv1.SprayStarted{LoadId: l, BoothId: s.boothOf(l, b), PermitId: permit}
	},
	"phase": func(_ *Script, w *words) proto.Message {
		expected := duration(w.length("for"))
		return &boothv1.BoothPhaseChanged{BoothId: w.take("a booth"), Phase: need[boothv1.Phase]("phase", w.take("a phase")), Expected: expected}
	},
	"finish": func(s *Script, w *words) proto.Message {
		b, _ := w.named("in")
		l := w.take("a load")
		return &boothv1.LoadFinished{LoadId: l, BoothId: s.boothOf(l, b)}
	},
	"fault": func(_ *Script, w *words) proto.Message {
		return &boothv1.BoothFaulted{What: because(w), BoothId: w.take("a booth")}
	},
	"reset": func(_ *Script, w *words) proto.Message {
		return &boothv1.BoothReset{What: because(w), BoothId: w.take("a booth")}
	},
}

// zone takes "bay-1 limits 5..35 error 0.5 drift 0.2 stale 15m settle 30m
// terminals tab-1 bay".
func zone(s *Script, w *words) proto.Message {
	b := &curesv1.ZoneDefined{
		StaleAfter: durationpb.New(w.length("stale")), Settling: durationpb.New(w.length("settle")), Works: w.has("bay"),
	}
	if t, ok := w.named("limits"); ok {
		b.LimitLowC, b.LimitHighC = span(t)
	}
	b.ProbeErrorC, _ = w.number("error")
	b.DriftCPerMin, _ = w.number("drift")
	if t, ok := w.named("terminals"); ok {
		b.Terminals = list(t)
		s.tabs = append(s.tabs, b.Terminals...)
	}
	b.ZoneId = w.take("a zone")
	return b
}

func read(_ *Script, w *words) proto.Message {
	probe, named := w.named("probe")
	r := &curesv1.ReadingTaken{
		RhPercent: w.opt("rh"), SurfaceC: w.opt("surface"), ByHand: w.has("by-hand"), ZoneId: w.take("a zone"), TempC: number(w.take("a temperature")),
	}
	switch {
	case named:
		r.ProbeId = "probe-" + probe
	case !r.GetByHand():
		r.ProbeId = "probe-" + r.GetZoneId()
	}
	return r
}

// booth takes "booth-1 zone booth-1 coat 10m process 75m open 07:30-17:00".
func booth(s *Script, w *words) proto.Message {
	b := &boothv1.BoothDefined{FirstCoatMin: w.length("coat").Minutes(), ProcessMin: w.length("process").Minutes()}
	b.ZoneId, _ = w.named("zone")
	if t, ok := w.named("open"); ok {
		from, to, _ := strings.Cut(t, "-")
		b.Open = []*floorv1.Interval{{From: timestamppb.New(s.moment(split(from))), To: timestamppb.New(s.moment(split(to)))}}
	}
	b.BoothId = w.take("a booth")
	return b
}

// load takes "2207-A of 2207 in booth-1 colour red coat waterborne seams
// 2207/rd-l,2207/rd-r".
func load(_ *Script, w *words) proto.Message {
	b := &boothv1.LoadPlanned{FirstCoatMin: w.length("first-coat").Minutes()}
	b.Ro, _ = w.named("of")
	b.BoothId, _ = w.named("in")
	b.Colour, _ = w.named("colour")
	if t, ok := w.named("coat"); ok {
		b.Coat = need[floorv1.Coat]("coat", t)
	}
	if t, ok := w.named("seams"); ok {
		b.SeamIds = list(t)
	}
	b.LoadId = w.take("a load")
	return b
}

// boothOf is the booth that a line names, else the one that the load is
// planned in.
func (s *Script) boothOf(l, told string) string {
	if told != "" {
		return told
	}
	s.floor(func(f *floor.Floor) {
		if p := f.Load(floor.LoadID(l)); p != nil {
			told = string(p.Booth)
		}
	})
	return told
}
