package past

import (
	"fmt"
	"slices"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/anypb"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/floor"
)

const (
	packML = 200.0
	seamML = 24.0
	spare  = 10.0 // ml that go to purging and equalising
	lease  = 10 * time.Minute
)

// furnish defines zones, booth and product and takes in the first lot.
func (s *Shop) furnish() error {
	for i, z := range zones {
		d := &curesv1.ZoneDefined{
			ZoneId: z, LimitLowC: 5, LimitHighC: 35, ProbeErrorC: 0.5, DriftCPerMin: 0.2, Works: i < bays,
			StaleAfter: durationpb.New(15 * time.Minute), Settling: durationpb.New(30 * time.Minute),
		}
		if i < bays {
			d.Terminals = []string{z + "-tablet"}
		}
		if err := s.tell(foreman, d); err != nil {
			return err
		}
	}
	return s.tell(foreman,
		&boothv1.BoothDefined{BoothId: booth, ZoneId: zones[bays], FirstCoatMin: 20, ProcessMin: 60},
		&materialsv1.ProductDefined{
			ProductId: "mb-1", Name: "Medium-bodied grey", Class: floorv1.SealerClass_SEALER_CLASS_MEDIUM_BODIED, Colour: "grey",
			CartridgeMl: packML, MixRatio: "1:1", Price: "36.80", Currency: "USD", ShelfLifeDays: 365, OpenedLifeDays: 90, LeadTimeDays: 3,
			Substrates: []floorv1.Substrate{floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER},
			Cure: &materialsv1.Cure{
				ReferenceTempC: 21, ActivationLowKjMol: 54, ActivationNominalKjMol: 54, ActivationHighKjMol: 54, TolerancePercent: 10,
				NozzleGelMin: proto.Float64(30), ToolingMin: proto.Float64(10), HandlingMin: proto.Float64(50), FullCureMin: proto.Float64(1440),
				Over: []*materialsv1.Cure_Window{{Coat: floorv1.Coat_COAT_WATERBORNE, OpensMin: 45, ClosesMin: 2880}},
			},
		},
		&materialsv1.LotReceived{LotId: "L-0", ProductId: "mb-1", Cartridges: 60})
}

// day plans the jobs that are opened on a day, and the next one.
func (s *Shop) day() error {
	s.plan(s.now.Add(24*time.Hour), s.day)
	if d := s.now.Weekday(); d == time.Saturday || d == time.Sunday {
		return nil
	}
	for i := range 2 + s.dice.IntN(2) {
		j := &job{s: s, ro: fmt.Sprint(2200 + s.jobs), bay: i % bays, photos: 1 + s.dice.IntN(2)}
		s.jobs++
		for n := range 5 + s.dice.IntN(4) {
			j.seams = append(j.seams, fmt.Sprintf("%s/s%d", j.ro, n+1))
		}
		at := s.now.Add(time.Duration(i*25+s.dice.IntN(15)) * time.Minute)
		for _, step := range []struct {
			after time.Duration
			do    func() error
		}{
			{0, j.open},
			{40 * time.Minute, j.survey},
			{100 * time.Minute, j.undercoat},
			{180 * time.Minute, j.lay},
			{290 * time.Minute, j.load},
			{48 * time.Hour, j.test},
			{50 * time.Hour, j.deliver},
		} {
			s.plan(at.Add(step.after), step.do)
		}
	}
	return nil
}

// job is one car's course through the shop.
type job struct {
	s      *Shop
	ro     string
	bay    int
	photos int
	seams  []string
}

func (j *job) each(by who, facts ...func(seam string) proto.Message) error {
	for _, seam := range j.seams {
		for _, f := range facts {
			j.s.now = j.s.now.Add(7 * time.Second)
			if err := j.s.tell(by, f(seam)); err != nil {
				return err
			}
		}
	}
	return nil
}

func (j *job) open() error {
	j.s.live = append(j.s.live, floor.RO(j.ro))
	return j.s.tell(foreman,
		&jobsv1.JobOpened{
			Ro: j.ro, Vehicle: "hatchback, blue", PaintColour: "blue", Coats: []floorv1.Coat{floorv1.Coat_COAT_WATERBORNE},
			Promised: timestamppb.New(j.s.now.Add(72 * time.Hour)), AfterBoothMin: 120,
		},
		&jobsv1.CarMoved{Ro: j.ro, ZoneId: zones[j.bay]})
}

func (j *job) survey() error {
	by, n := technician(j.bay), 0
	err := j.each(by, func(seam string) proto.Message {
		n++
		return &jobsv1.SeamSurveyed{
			SeamId: seam, Panel: []string{"roof", "door", "tailgate"}[n%3], Place: []string{"roof ditch", "hem", "joint"}[n%3], Side: []string{"L", "R"}[n%2],
			LengthMm: 900, Orientation: floorv1.Orientation_ORIENTATION_LEVEL, Finish: floorv1.Finish_FINISH_COATED,
			Substrate: floorv1.Substrate_SUBSTRATE_E_COAT, Reference: &floorv1.Reference{
				Source: floorv1.ReferenceSource_REFERENCE_SOURCE_BEFORE_TEAR_DOWN, Class: floorv1.SealerClass_SEALER_CLASS_MEDIUM_BODIED,
				Profile: floorv1.Profile_PROFILE_ROUND, Colour: "grey", WidthMm: 8, HeightMm: 3,
			},
		}
	})
	for range j.photos {
		if err == nil {
			err = j.each(by, func(seam string) proto.Message {
				return &jobsv1.PhotoAttached{SeamId: seam, Sha256: fmt.Sprintf("%064x", j.s.dice.Uint64()), MediaType: "image/jpeg", Caption: "before tear-down"}
			})
		}
	}
	if err != nil {
		return err
	}
	return j.each(by, func(seam string) proto.Message {
		return &jobsv1.SeamPlanned{
			SeamId: seam, ProductId: "mb-1", Profile: floorv1.Profile_PROFILE_ROUND, WidthMm: 8, HeightMm: 3,
			Technique: floorv1.Technique_TECHNIQUE_DIRECT_BEAD, Nozzle: "round", VolumeMl: seamML,
			Reasons: []string{"The factory's bead is round and medium-bodied.", "It is topcoated, so any neutral colour will do."},
		}
	})
}

func (j *job) undercoat() error {
	return j.s.tell(technician(j.bay), &jobsv1.CoatApplied{
		SeamIds: j.seams, Layer: &jobsv1.CoatApplied_Under{Under: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER}, Product: "epoxy primer", DryMin: 40, RecoatMin: 2880,
	})
}

// lay seals every seam: the first half bead by bead, the rest as one run.
func (j *job) lay() error {
	s, by := j.s, technician(j.bay)
	if err := j.each(by, func(seam string) proto.Message {
		return &jobsv1.SurfacePrepped{SeamId: seam, Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER, SurfaceTempC: proto.Float64(20)}
	}); err != nil {
		return err
	}
	half := len(j.seams) / 2
	for _, part := range [][]string{j.seams[:half], j.seams[half:]} {
		c, err := s.cartridge(j.bay, by, seamML*float64(len(part))+spare)
		if err != nil {
			return err
		}
		s.nozzles++
		nozzle := fmt.Sprintf("N-%d", s.nozzles)
		if err := s.tell(by, &materialsv1.NozzleFitted{NozzleId: nozzle, CartridgeId: c, Kind: "round"},
			&materialsv1.CartridgePurged{CartridgeId: c, VolumeMl: proto.Float64(4)}); err != nil {
			return err
		}
		if err := j.beads(by, part, c, nozzle, len(part) > half); err != nil {
			return err
		}
		s.now = s.now.Add(time.Minute)
		if err := s.tell(by, &materialsv1.NozzleRemoved{NozzleId: nozzle}, &materialsv1.CartridgeStored{CartridgeId: c}); err != nil {
			return err
		}
	}
	return j.amend(by)
}

func (j *job) beads(by who, seams []string, cartridge, nozzle string, run bool) error {
	s := j.s
	if run {
		r := &jobsv1.RunLaid{CartridgeId: cartridge, NozzleId: nozzle}
		for i, seam := range seams {
			back := time.Duration(len(seams)-1-i) * 2 * time.Minute
			r.Passes = append(r.Passes, &jobsv1.RunLaid_Pass{SeamId: seam, Layer: floorv1.Layer_LAYER_BEAD, EndedBefore: durationpb.New(back), Lasted: durationpb.New(time.Minute)})
		}
		s.now = s.now.Add(time.Duration(len(seams)) * 2 * time.Minute)
		return s.tell(by, r)
	}
	for _, seam := range seams {
		s.now = s.now.Add(2 * time.Minute)
		if err := s.tell(by, &jobsv1.BeadLaid{
			SeamId: seam, CartridgeId: cartridge, NozzleId: nozzle, Layer: floorv1.Layer_LAYER_BEAD, Lasted: durationpb.New(time.Minute), SurfaceTempC: proto.Float64(20),
		}, &jobsv1.BeadTooled{SeamId: seam, How: "brush"}); err != nil {
			return err
		}
	}
	return nil
}

// amend withdraws or corrects what was told wrongly about one job in ten.
func (j *job) amend(by who) error {
	seq := j.s.f.Seq()
	switch j.s.dice.IntN(20) {
	case 0:
		for ; ; seq-- {
			if ev, _, _ := j.s.f.Event(seq); slices.Contains([]string{"SurfacePrepped", "BeadTooled"}, string(ev.Body.ProtoReflect().Descriptor().Name())) {
				return j.s.tell(by, &jobsv1.FactWithdrawn{Sequence: seq, Why: "it was another seam"})
			}
		}
	case 1:
		for ; ; seq-- {
			ev, _, _ := j.s.f.Event(seq)
			if p, ok := ev.Body.(*jobsv1.SurfacePrepped); ok {
				p = proto.CloneOf(p)
				p.SurfaceTempC, p.Assessment = proto.Float64(20.5), nil
				body, err := anypb.New(p)
				if err != nil {
					return err
				}
				return j.s.tell(by, &jobsv1.FactCorrected{Sequence: seq, Why: "read wrongly", Body: body})
			}
		}
	}
	return nil
}

// cartridge gives the bay's opened cartridge, or opens one that holds enough.
func (s *Shop) cartridge(bay int, by who, ml float64) (string, error) {
	c := &s.carts[bay]
	if c.left < ml {
		if c.id != "" {
			if err := s.tell(by, &materialsv1.CartridgeEmptied{CartridgeId: c.id, Discarded: true}); err != nil {
				return "", err
			}
		}
		lot := fmt.Sprintf("L-%d", s.opened/60)
		if s.opened%60 == 0 && s.opened > 0 {
			if err := s.tell(foreman, &materialsv1.LotReceived{LotId: lot, ProductId: "mb-1", Cartridges: 60}); err != nil {
				return "", err
			}
		}
		s.opened++
		c.id, c.left = fmt.Sprintf("C-%d", s.opened), packML
		if err := s.tell(by, &materialsv1.CartridgeOpened{CartridgeId: c.id, LotId: lot}, &materialsv1.CartridgeEqualised{CartridgeId: c.id, VolumeMl: proto.Float64(2)}); err != nil {
			return "", err
		}
	}
	c.left -= ml
	return c.id, nil
}

// load books the booth and sprays the car in its next gap.
func (j *job) load() error {
	s := j.s
	at := s.now
	if s.free.After(at) {
		at = s.free
	}
	s.free = at.Add(100 * time.Minute)
	id := j.ro + "-A"
	s.plan(at, func() error { return j.spray(id) })
	s.plan(at.Add(25*time.Minute), func() error { return j.phase(boothv1.Phase_PHASE_FLASH_OFF) })
	s.plan(at.Add(35*time.Minute), func() error { return j.phase(boothv1.Phase_PHASE_BAKING) })
	s.plan(at.Add(75*time.Minute), func() error {
		return s.tell(painter, &boothv1.LoadFinished{BoothId: booth, LoadId: id}, &jobsv1.CarMoved{Ro: j.ro, ZoneId: zones[j.bay]})
	})
	return s.tell(foreman, &boothv1.LoadPlanned{LoadId: id, BoothId: booth, Ro: j.ro, Colour: "blue", SeamIds: j.seams, Start: timestamppb.New(at)})
}

func (j *job) phase(p boothv1.Phase) error {
	return j.s.tell(painter, &boothv1.BoothPhaseChanged{BoothId: booth, Phase: p, Expected: durationpb.New(40 * time.Minute)})
}

// spray gets a permit and uses it.
func (j *job) spray(load string) error {
	s := j.s
	permit := fmt.Sprintf("P%d", s.f.Seq()+1)
	ev := s.f.Own("booth-gate", fmt.Sprintf("gate.%s.%d", load, s.f.Seq()+1), s.now)
	ev.Actor, ev.Role, ev.Aggregate = painter.name, floor.Painter, floor.BoothID(booth).Aggregate()
	ev.Body = &boothv1.PermitIssued{
		PermitId: permit, BoothId: booth, LoadId: load, Holder: "booth-gate", StartBy: timestamppb.New(s.now.Add(lease)), Seen: s.f.Seq(),
		Grounds: "all seams open at the cold bound and not closed at the hot bound up to the end of the first coat",
	}
	if err := s.put(ev); err != nil {
		return err
	}
	s.now = s.now.Add(2 * time.Minute)
	if err := s.tell(painter, &boothv1.SprayStarted{BoothId: booth, LoadId: load, PermitId: permit}); err != nil {
		return err
	}
	s.now = s.now.Add(18 * time.Minute)
	return s.tell(painter, &jobsv1.CoatApplied{
		SeamIds: j.seams, Layer: &jobsv1.CoatApplied_Over{Over: floorv1.Coat_COAT_WATERBORNE}, Product: "basecoat blue", Lasted: durationpb.New(15 * time.Minute), LoadId: load,
	})
}

func (j *job) test() error {
	return j.each(technician(j.bay),
		func(seam string) proto.Message { return &jobsv1.WaterTested{SeamId: seam, Tight: true} },
		func(seam string) proto.Message { return &jobsv1.WaxApplied{SeamId: seam} })
}

func (j *job) deliver() error {
	if err := j.each(foreman, func(seam string) proto.Message {
		return &jobsv1.SeamInspected{SeamId: seam, Accepted: true, WidthMm: proto.Float64(8.2), HeightMm: proto.Float64(3.1)}
	}); err != nil {
		return err
	}
	j.s.live = slices.DeleteFunc(j.s.live, func(ro floor.RO) bool { return string(ro) == j.ro })
	return j.s.tell(foreman, &jobsv1.JobDelivered{Ro: j.ro})
}

// lookAgain is how long a seam's clocks are left alone at most.
const lookAgain = 30 * time.Minute

// announce says of the clocks on the floor which have ended by now.
func (s *Shop) announce() error {
	for _, ro := range s.live {
		for _, seam := range s.f.SeamsOf(ro) {
			if s.now.Before(s.look[seam]) {
				continue
			}
			s.look[seam] = s.now.Add(lookAgain)
			for _, r := range s.f.SeamClocks(seam) {
				if r.Said != 0 {
					continue
				}
				if err := s.end(r); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// end announces a clock that has ended, in the keeper's form.
func (s *Shop) end(r floor.Running) error {
	v := cure.Judge(r.Path, r.Clock, s.now)
	due, ready := v.Milli().DueCold, floor.KindOf(r.ID.Clock) == cure.Ready
	if !ready {
		due = v.Milli().DueHot
	}
	if v.Reached != cure.Yes {
		if due.After(s.now) && due.Before(s.look[r.ID.Seam]) {
			s.look[r.ID.Seam] = due
		}
		return nil
	}
	ev := s.f.Own("clock-keeper", fmt.Sprintf("keeper.%s.%d.%d", r.ID.Seam, r.ID.Clock, s.f.Seq()+1), s.now)
	ev.Occurred = due
	if began, _, ok := s.f.Event(r.ID.Began); ok && began.Occurred.After(due) {
		ev.Occurred = began.Occurred
	}
	ev.Earliest, ev.Latest, ev.Aggregate = ev.Occurred, ev.Occurred, r.ID.Seam.Aggregate()
	coat := floor.Enum[floorv1.Coat](string(r.ID.Coat))
	grounds := fmt.Sprintf("product revision %d; %.0f s needed; age cold %.0f s, hot %.0f s", r.Revision, v.NeededS, v.AgeColdS, v.AgeHotS)
	if ready {
		ev.Body = &curesv1.WindowOpened{SeamId: string(r.ID.Seam), Clock: r.ID.Clock, Coat: coat, Began: r.ID.Began, Due: timestamppb.New(due), Grounds: grounds}
	} else {
		ev.Body = &curesv1.WindowClosed{SeamId: string(r.ID.Seam), Clock: r.ID.Clock, Coat: coat, Began: r.ID.Began, Due: timestamppb.New(due), Grounds: grounds}
	}
	return s.put(ev)
}
