package floortest

import (
	"fmt"
	"math/rand/v2"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/floor"
)

// Crowd tells facts by chance of some things that many hands work on at once:
// the fewer jobs there are, the more of what can cross does.
type Crowd struct {
	r    *rand.Rand
	side *rand.Rand // what changes nothing about which facts are told, of what, and when
	jobs int
	n    int
}

// NewCrowd makes a crowd over some jobs of three seams; a seed gives one
// course of telling.
func NewCrowd(seed uint64, jobs int) *Crowd {
	return &Crowd{r: rand.New(rand.NewPCG(seed, 4)), side: rand.New(rand.NewPCG(seed, 5)), jobs: jobs}
}

// Furnish is what the shop of the crowd has before anybody works: two bays,
// two products with a lot each, jobs and their seams.
func (c *Crowd) Furnish() []floor.Command {
	var out []floor.Command
	for i := range 2 {
		out = append(out, c.by(floorv1.Role_ROLE_FOREMAN, &curesv1.ZoneDefined{
			ZoneId: fmt.Sprintf("bay-%d", i), LimitLowC: 5, LimitHighC: 35, ProbeErrorC: 0.5, DriftCPerMin: 0.2, Works: true,
			StaleAfter: durationpb.New(15 * time.Minute), Settling: durationpb.New(30 * time.Minute), Terminals: []string{fmt.Sprintf("tab-%d", i)},
		}))
	}
	for i := range 2 {
		out = append(out, c.by(floorv1.Role_ROLE_FOREMAN, &materialsv1.ProductDefined{
			ProductId: fmt.Sprintf("P%d", i), Name: "demo", Class: floorv1.SealerClass_SEALER_CLASS_MEDIUM_BODIED, CartridgeMl: 60, OpenedLifeDays: 90,
			Cure: &materialsv1.Cure{
				ReferenceTempC: 21, ActivationLowKjMol: 52, ActivationNominalKjMol: 52, ActivationHighKjMol: 52, MinTempC: proto.Float64(15),
				NozzleGelMin: proto.Float64(8), ToolingMin: proto.Float64(12), HandlingMin: proto.Float64(45), FullCureMin: proto.Float64(1440),
				Over: []*materialsv1.Cure_Window{{Coat: floorv1.Coat_COAT_SOLVENTBORNE, OpensMin: 5 + 10*float64(i), ClosesMin: 600}, {Coat: floorv1.Coat_COAT_WATERBORNE, OpensMin: 60, ClosesMin: 600}},
			},
		}))
		out = append(out, c.by(floorv1.Role_ROLE_FOREMAN, &materialsv1.LotReceived{LotId: fmt.Sprintf("L%d", i), ProductId: fmt.Sprintf("P%d", i), Cartridges: 50}))
	}
	for j := range c.jobs {
		out = append(out, c.by(floorv1.Role_ROLE_FOREMAN, &jobsv1.JobOpened{Ro: fmt.Sprintf("J%d", j), Vehicle: "van", Coats: []floorv1.Coat{floorv1.Coat_COAT_SOLVENTBORNE}}))
		for s := range 3 {
			out = append(out, c.by(floorv1.Role_ROLE_FOREMAN, c.survey(fmt.Sprintf("J%d/s%d", j, s))))
		}
	}
	return out
}

func (c *Crowd) by(role floorv1.Role, body proto.Message) floor.Command {
	c.n++
	return floor.Command{Body: body, Stamp: &floorv1.Stamp{
		CommandId: fmt.Sprintf("crowd-%06d", c.n), Actor: "Robin", Role: role, Terminal: fmt.Sprintf("tab-%d", c.r.IntN(3)),
		Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
	}}
}

// Next is the next fact. One in five happened some minutes before.
func (c *Crowd) Next() floor.Command {
	out := c.by(floorv1.Role_ROLE_TECHNICIAN, c.fact())
	if c.r.IntN(5) == 0 {
		out.Stamp.Age = &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_MEASURED, Length: durationpb.New(time.Duration(1+c.r.IntN(1800)) * time.Second)}
	}
	return out
}

// Wait is how long it is until then.
func (c *Crowd) Wait() time.Duration { return time.Duration(c.r.IntN(90)) * time.Second }

func (c *Crowd) seam() string      { return fmt.Sprintf("J%d/s%d", c.r.IntN(c.jobs), c.r.IntN(3)) }
func (c *Crowd) cartridge() string { return fmt.Sprintf("C%d", c.r.IntN(c.jobs+1)) }
func (c *Crowd) nozzle() string    { return fmt.Sprintf("N%d", c.r.IntN(c.jobs+1)) }
func (c *Crowd) zone() string      { return fmt.Sprintf("bay-%d", c.r.IntN(2)) }
func (c *Crowd) job() string       { return fmt.Sprintf("J%d", c.r.IntN(c.jobs)) }
func (c *Crowd) panel() string     { return fmt.Sprintf("panel-%d", c.r.IntN(2)) }

func (c *Crowd) survey(seam string) *jobsv1.SeamSurveyed {
	s := &jobsv1.SeamSurveyed{
		SeamId: seam, Panel: c.panel(), Place: "hem", LengthMm: 500,
		Finish: floorv1.Finish_FINISH_COATED, Substrate: floorv1.Substrate_SUBSTRATE_E_COAT,
	}
	if c.side.IntN(2) == 0 {
		s.SheetMm = proto.Float64(0.8)
	}
	return s
}

func (c *Crowd) fact() proto.Message {
	switch c.r.IntN(10) {
	case 0:
		return &curesv1.ReadingTaken{ZoneId: c.zone(), ProbeId: "p", TempC: 10 + 15*c.r.Float64(), RhPercent: proto.Float64(30 + 60*c.r.Float64())}
	case 1, 2:
		return c.material()
	case 3, 4, 5:
		return c.laid()
	case 6, 7, 8:
		return c.handled()
	}
	return c.told()
}

func (c *Crowd) material() proto.Message {
	id := c.cartridge()
	return pickOne[proto.Message](c.r,
		&materialsv1.CartridgeOpened{CartridgeId: id, LotId: fmt.Sprintf("L%d", c.r.IntN(3))},
		&materialsv1.CartridgeEqualised{CartridgeId: id, VolumeMl: proto.Float64(1)},
		&materialsv1.NozzleFitted{CartridgeId: id, NozzleId: c.nozzle()},
		&materialsv1.NozzleFitted{CartridgeId: id, NozzleId: c.nozzle(), HoldUpMl: proto.Float64(4)},
		&materialsv1.CartridgePurged{CartridgeId: id, VolumeMl: proto.Float64(2)},
		&materialsv1.CartridgePurged{CartridgeId: id, VolumeMl: proto.Float64(2)},
		&materialsv1.NozzleRemoved{NozzleId: c.nozzle()},
		&materialsv1.CartridgeStored{CartridgeId: id, NozzleOn: c.r.IntN(2) == 0},
		&materialsv1.CartridgeWeighed{CartridgeId: id, RemainingMl: 40},
		&materialsv1.CartridgeEmptied{CartridgeId: id},
	)
}

func (c *Crowd) laid() proto.Message {
	took := durationpb.New(time.Duration(c.r.IntN(120)) * time.Second)
	layer := pickOne(c.r, floorv1.Layer_LAYER_BEAD, floorv1.Layer_LAYER_BEAD, floorv1.Layer_LAYER_BED)
	bead := &jobsv1.BeadLaid{SeamId: c.seam(), CartridgeId: c.cartridge(), NozzleId: c.nozzle(), Layer: layer, VolumeMl: proto.Float64(6), Lasted: took}
	if c.side.IntN(4) == 0 {
		bead.VolumeMl = nil // as planned: a weight of its cartridge corrects it
	}
	return pickOne[proto.Message](c.r, bead, bead,
		&jobsv1.RunLaid{CartridgeId: c.cartridge(), NozzleId: c.nozzle(), Passes: []*jobsv1.RunLaid_Pass{
			{SeamId: c.seam(), Layer: layer, VolumeMl: proto.Float64(3), EndedBefore: durationpb.New(2 * time.Minute), Lasted: durationpb.New(time.Minute)},
			{SeamId: c.seam(), Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: proto.Float64(3), Lasted: durationpb.New(time.Minute)},
		}},
		&jobsv1.SurfacePrepped{SeamId: c.seam(), Substrate: pickOne(c.r, floorv1.Substrate_SUBSTRATE_E_COAT, floorv1.Substrate_SUBSTRATE_BARE_STEEL)},
		&jobsv1.BeadTooled{SeamId: c.seam()},
		&jobsv1.SeamReworked{SeamId: c.seam(), Why: "torn"},
	)
}

func (c *Crowd) handled() proto.Message {
	id := c.seam()
	return pickOne[proto.Message](c.r,
		&jobsv1.CoatApplied{SeamIds: []string{id}, Layer: &jobsv1.CoatApplied_Over{Over: floorv1.Coat_COAT_SOLVENTBORNE}},
		&jobsv1.CoatApplied{SeamIds: []string{id}, Layer: &jobsv1.CoatApplied_Under{Under: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER}, DryMin: 20},
		&jobsv1.WaterTested{SeamId: id, Tight: c.r.IntN(4) > 0},
		&jobsv1.SeamInspected{SeamId: id, Accepted: c.r.IntN(4) > 0},
		&jobsv1.BeadDisturbed{SeamId: id, How: "brushed"},
		&jobsv1.SeamScuffed{SeamId: id},
		&jobsv1.BeadDeaired{SeamId: id},
		&jobsv1.HeatApplied{SeamIds: []string{id, c.seam()}, Lasted: durationpb.New(5 * time.Minute), SurfaceTempC: proto.Float64(50)},
		&jobsv1.WaxApplied{SeamId: id},
		&jobsv1.PhotoAttached{SeamId: id, Sha256: fmt.Sprintf("%064x", c.n)},
		&curesv1.StageObserved{SeamId: id, Clock: floorv1.Clock_CLOCK_HANDLING},
	)
}

func (c *Crowd) told() proto.Message {
	return pickOne[proto.Message](c.r,
		c.survey(c.seam()),
		&jobsv1.SeamPlanned{SeamId: c.seam(), ProductId: fmt.Sprintf("P%d", c.r.IntN(2)), Profile: floorv1.Profile_PROFILE_ROUND, Technique: floorv1.Technique_TECHNIQUE_DIRECT_BEAD, VolumeMl: 5},
		&jobsv1.ProcedureRecorded{SeamId: c.seam(), Text: "as the maker says"},
		&jobsv1.CarMoved{Ro: c.job(), ZoneId: c.zone()},
		&jobsv1.PanelMoved{Ro: c.job(), Panel: c.panel(), ZoneId: c.zone(), OffCar: c.r.IntN(2) == 0},
		&jobsv1.DoneElsewhere{SeamId: c.seam(), Stage: floorv1.Stage_STAGE_LAID, Who: "another shop", Paper: "invoice"},
		&jobsv1.JobOpened{Ro: c.job(), Vehicle: "van", Coats: []floorv1.Coat{pickOne(c.r, floorv1.Coat_COAT_SOLVENTBORNE, floorv1.Coat_COAT_WATERBORNE)}},
		&materialsv1.LotRecalled{LotId: fmt.Sprintf("L%d", c.r.IntN(2)), Why: "lumps"},
		&materialsv1.StockCounted{LotId: fmt.Sprintf("L%d", c.r.IntN(2)), Cartridges: 30},
	)
}

func pickOne[T any](r *rand.Rand, of ...T) T { return of[r.IntN(len(of))] }
