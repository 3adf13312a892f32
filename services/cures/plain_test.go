package cures_test

import (
	"fmt"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"
	"pgregory.net/rapid"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/journal/memory"
	"seamwright/services/record/recordtest"
)

// Whatever is told, in whatever order, and however often the keeper looks:
// when the shop has come to rest, exactly those clocks are announced that the
// floor itself, asked plainly about each, calls ended.
func TestTheKeeperTellsWhatThePlainClocksSay(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		steps := steady
		if rapid.IntRange(0, 4).Draw(rt, "restarting") == 0 {
			steps = restarting
		}
		y := newYard(rt, memory.New(memory.Options{}), steps)
		y.furnish()
		y.tell(&materialsv1.CartridgeOpened{CartridgeId: "C2", LotId: "L1"})
		y.tell(&boothv1.LoadPlanned{LoadId: "2207-A", BoothId: "booth-1", Ro: "2207", SeamIds: seams[:2]})
		c := &chance{yard: y, rt: rt, air: map[string]float64{"bay-1": 21, "bay-2": 24, "room": 22}}
		for _, z := range zones {
			y.read(z, c.air[z])
		}
		for range rapid.IntRange(5, 40).Draw(rt, "facts") {
			c.step()
			if rapid.IntRange(0, 2).Draw(rt, "unlooked") > 0 {
				y.rest()
				y.plain()
			}
		}
		y.rest()
		y.plain()
	})
}

var (
	zones = []string{"bay-1", "bay-2", "room"}
	seams = []string{"2207/rd-l", "2207/rd-r", "2207/floor"}
)

// chance tells random facts in a yard.
type chance struct {
	*yard
	rt  *rapid.T
	air map[string]float64
}

func (c *chance) pick(what string, of ...string) string {
	return rapid.SampledFrom(of).Draw(c.rt, what)
}

// minutes are drawn in milliseconds, so that no moment is a round one.
func (c *chance) minutes(what string, most int) time.Duration {
	return time.Duration(rapid.IntRange(1, most*60_000).Draw(c.rt, what)) * time.Millisecond
}

func (c *chance) step() {
	switch n := rapid.IntRange(0, 19).Draw(c.rt, "kind"); {
	case n < 5:
		c.pass()
	case n < 8:
		c.reading()
	case n < 12:
		c.material()
	case n < 16:
		c.handle()
	case n < 18:
		c.change()
	default:
		c.takeBack()
	}
}

// any tells a fact at a random terminal, now or as of a random moment, and
// takes a refusal for an answer: it changes nothing.
func (c *chance) any(body proto.Message) {
	c.rt.Helper()
	w := tell{body: body, terminal: c.pick("terminal", "desk", "bay-1-tablet", "bay-1-tablet", "bay-2-tablet")}
	if rapid.IntRange(0, 3).Draw(c.rt, "late") == 0 {
		w.age = c.minutes("age", 40)
		w.kind = rapid.SampledFrom([]floorv1.AgeKind{floorv1.AgeKind_AGE_KIND_MEASURED, floorv1.AgeKind_AGE_KIND_CLAIMED}).Draw(c.rt, "age kind")
	}
	if _, err := c.try(w); err != nil && fault.KindOf(err) != fault.NotFound && fault.KindOf(err) != fault.Refused && fault.KindOf(err) != fault.Invalid {
		c.rt.Fatalf("%T: %v", body, err)
	}
}

// pass lets time go by, with a reading or without.
func (c *chance) pass() {
	to := c.time.Now().Add(c.minutes("pass", rapid.SampledFrom([]int{3, 20, 90}).Draw(c.rt, "how long")))
	if err := c.drive.AdvanceTo(c.ctx(), to); err != nil {
		c.rt.Fatalf("%v", err)
	}
	c.plain()
	if rapid.Bool().Draw(c.rt, "then read") {
		c.read("bay-1", c.air["bay-1"])
	}
}

func (c *chance) reading() {
	z := c.pick("zone", zones...)
	temp := c.air[z] + rapid.Float64Range(-1.5, 1.5).Draw(c.rt, "drift")
	switch rapid.IntRange(0, 9).Draw(c.rt, "what") {
	case 0: // a spike
		temp = rapid.Float64Range(-5, 60).Draw(c.rt, "spike")
	case 1, 2:
		c.any(&curesv1.ReadingTaken{ZoneId: z, ProbeId: "p2", TempC: temp})
		return
	case 3:
		c.any(&curesv1.ReadingTaken{ZoneId: z, ByHand: true, TempC: temp})
		return
	case 4: // beyond the limits, step by step
		c.air[z] = rapid.SampledFrom([]float64{6, 34}).Draw(c.rt, "edge")
		temp = c.air[z]
	default:
		c.air[z] = temp
	}
	c.read(z, temp)
}

func (c *chance) material() {
	cart, nozzle := c.pick("cartridge", "C1", "C2"), c.pick("nozzle", "N1", "N2", "")
	seam := c.pick("seam", seams...)
	switch rapid.IntRange(0, 7).Draw(c.rt, "material") {
	case 0:
		c.any(&materialsv1.CartridgePurged{CartridgeId: cart, VolumeMl: proto.Float64(1)})
	case 1:
		c.any(&materialsv1.NozzleRemoved{NozzleId: c.pick("off", "N1", "N2")})
	case 2:
		c.any(&materialsv1.NozzleFitted{CartridgeId: cart, NozzleId: c.pick("on", "N1", "N2"), Kind: "round"})
	case 3:
		c.any(&jobsv1.RunLaid{CartridgeId: cart, NozzleId: nozzle, Passes: []*jobsv1.RunLaid_Pass{
			{SeamId: seams[0], Layer: floorv1.Layer_LAYER_BEAD, Lasted: durationpb.New(time.Minute), EndedBefore: durationpb.New(2 * time.Minute), VolumeMl: proto.Float64(1)},
			{SeamId: seams[1], Layer: floorv1.Layer_LAYER_BEAD, Lasted: durationpb.New(time.Minute), VolumeMl: proto.Float64(1)},
		}})
	default:
		b := bead(seam)
		b.CartridgeId, b.NozzleId = cart, nozzle
		if rapid.IntRange(0, 3).Draw(c.rt, "measured") == 0 {
			b.SurfaceTempC = proto.Float64(rapid.Float64Range(10, 30).Draw(c.rt, "surface"))
		}
		c.any(b)
	}
}

func (c *chance) handle() {
	seam := c.pick("seam", seams...)
	switch rapid.IntRange(0, 7).Draw(c.rt, "handle") {
	case 0:
		c.any(&jobsv1.CarMoved{Ro: "2207", ZoneId: c.pick("to", zones...)})
	case 1:
		c.any(&jobsv1.PanelMoved{Ro: "2207", Panel: "panel-rd-l", OffCar: rapid.Bool().Draw(c.rt, "off car"), ZoneId: c.pick("to", zones...)})
	case 2:
		h := &jobsv1.HeatApplied{SeamIds: []string{seam}, Lasted: durationpb.New(c.minutes("heat", 10))}
		if rapid.Bool().Draw(c.rt, "known heat") {
			h.SourceTempC = proto.Float64(rapid.Float64Range(30, 60).Draw(c.rt, "source"))
		}
		c.any(h)
	case 3:
		c.any(&jobsv1.SeamScuffed{SeamId: seam})
	case 4:
		c.any(&jobsv1.SeamReworked{SeamId: seam})
	case 5:
		c.any(&jobsv1.CoatApplied{SeamIds: []string{seam}, Layer: &jobsv1.CoatApplied_Over{Over: floorv1.Coat_COAT_WATERBORNE}})
	case 6:
		c.any(&jobsv1.BeadDisturbed{SeamId: seam, How: "a sleeve"})
	default:
		c.any(&jobsv1.DoneElsewhere{SeamId: seam, Stage: floorv1.Stage_STAGE_LAID, Who: "the shop next door", Paper: "sheet 4"})
	}
}

func (c *chance) change() {
	switch rapid.IntRange(0, 6).Draw(c.rt, "change") {
	case 4: // what is sprayed is in the booth's zone
		c.any(&boothv1.SprayStarted{BoothId: "booth-1", LoadId: "2207-A"})
	case 5:
		c.any(&boothv1.LoadPlanned{LoadId: "2207-A", BoothId: "booth-1", Ro: "2207", SeamIds: []string{c.pick("seam", seams...)}})
	case 6:
		c.any(&boothv1.BoothDefined{BoothId: "booth-1", ZoneId: c.pick("zone", zones...), FirstCoatMin: 20, ProcessMin: 60})
	case 0:
		z := zoneOf(c.pick("zone", zones...))
		z.DriftCPerMin = rapid.Float64Range(0.05, 0.5).Draw(c.rt, "drift")
		z.Settling = durationpb.New(c.minutes("settling", 60))
		c.any(z)
	case 1:
		c.any(c.product())
	case 2:
		c.any(&jobsv1.JobOpened{Ro: "2207", Vehicle: "blue hatchback", Coats: []floorv1.Coat{
			rapid.SampledFrom([]floorv1.Coat{floorv1.Coat_COAT_WATERBORNE, floorv1.Coat_COAT_SOLVENTBORNE}).Draw(c.rt, "coat"),
		}})
	default:
		c.any(&materialsv1.LotReceived{LotId: fmt.Sprint("L", rapid.IntRange(1, 3).Draw(c.rt, "lot")), ProductId: "sl", Cartridges: 6})
	}
}

func (c *chance) product() *materialsv1.ProductDefined {
	p := recordtest.Levelling()
	p.Cure.FlowOutMin = proto.Float64(rapid.Float64Range(0, 40).Draw(c.rt, "flow-out"))
	p.Cure.NozzleGelMin = proto.Float64(rapid.Float64Range(0, 10).Draw(c.rt, "gel"))
	p.Cure.Over[0].OpensMin = rapid.Float64Range(0, 30).Draw(c.rt, "opens")
	p.Cure.Over[0].ClosesMin = p.Cure.Over[0].OpensMin + rapid.Float64Range(0, 90).Draw(c.rt, "closes")
	if rapid.Bool().Draw(c.rt, "band") {
		p.Cure.ActivationLowKjMol, p.Cure.ActivationHighKjMol = 45, 60
	}
	if rapid.Bool().Draw(c.rt, "least") {
		p.Cure.MinTempC = proto.Float64(10)
	}
	if rapid.Bool().Draw(c.rt, "scuff") {
		p.Cure.AfterScuffClosesMin = proto.Float64(20)
	}
	return p
}

// takeBack withdraws, retimes or corrects something that was told.
func (c *chance) takeBack() {
	var seq uint64
	var ev floor.Event
	c.Writer.View(func(last uint64) {
		seq = uint64(rapid.IntRange(1, int(last)).Draw(c.rt, "which"))
		ev, _, _ = c.Floor.Event(seq)
	})
	switch body := ev.Body.(type) {
	case *curesv1.ZoneDefined, *materialsv1.CartridgeOpened:
		return // a shop without a bay is not the question here
	case *curesv1.ReadingTaken:
		if rapid.Bool().Draw(c.rt, "correct") {
			fixed := proto.CloneOf(body)
			fixed.TempC += rapid.Float64Range(-10, 10).Draw(c.rt, "by")
			c.any(correction(c.rt, seq, fixed))
			return
		}
	case *materialsv1.ProductDefined:
		c.any(correction(c.rt, seq, c.product()))
		return
	}
	if rapid.IntRange(0, 2).Draw(c.rt, "retime") == 0 {
		c.any(&jobsv1.FactCorrected{Sequence: seq, Why: "at another time", Retime: true})
		return
	}
	c.any(&jobsv1.FactWithdrawn{Sequence: seq, Why: "told in error"})
}
