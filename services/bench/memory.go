package bench

import (
	"context"
	"fmt"
	"runtime"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/clock"
	"seamwright/services/cures"
	"seamwright/services/floor"
	"seamwright/services/journal"
	"seamwright/services/journal/memory"
	"seamwright/services/record"
)

// crowd is a floor on which very many beads cure at once in one bay.
type crowd struct {
	f    *floor.Floor
	desk *record.Desk
	now  time.Time
	told int
}

// crowdJob is how many seams each of its jobs has.
const crowdJob = 40

func newCrowd(seams int) (*crowd, error) {
	f := floor.New()
	c := &crowd{f: f, now: dayBegins}
	c.desk = &record.Desk{Writer: journal.NewWriter(memory.New(memory.Options{Shop: shopName}), f), Floor: f, Clock: clock.NewDriven(c.now)}
	if err := c.tell(
		&curesv1.ZoneDefined{
			ZoneId: "bay-1", LimitLowC: 5, LimitHighC: 35, ProbeErrorC: 0.5, DriftCPerMin: 0.2, Works: true,
			StaleAfter: durationpb.New(15 * time.Minute), Settling: durationpb.New(time.Minute), Terminals: []string{"tablet"},
		},
		&materialsv1.ProductDefined{
			ProductId: "mb", Name: "Medium-bodied grey", Class: floorv1.SealerClass_SEALER_CLASS_MEDIUM_BODIED, CartridgeMl: 10000,
			Cure: &materialsv1.Cure{
				ReferenceTempC: 21, ActivationLowKjMol: 52, ActivationNominalKjMol: 52, ActivationHighKjMol: 52, TolerancePercent: 10,
				// Longer than any that this measurement waits for.
				HandlingMin: proto.Float64(200_000), FullCureMin: proto.Float64(400_000),
				Over: []*materialsv1.Cure_Window{{Coat: floorv1.Coat_COAT_WATERBORNE, OpensMin: 150_000, ClosesMin: 500_000}},
			},
		},
		&materialsv1.LotReceived{LotId: "L", ProductId: "mb", Cartridges: 100_000}); err != nil {
		return nil, err
	}
	if err := c.read(0); err != nil {
		return nil, err
	}
	for n := range seams {
		if err := c.lay(n); err != nil {
			return nil, err
		}
	}
	return c, nil
}

// tell decides and folds facts, without a journal.
func (c *crowd) tell(facts ...proto.Message) error {
	for _, b := range facts {
		c.told++
		ev, err := c.f.Decide(floor.Command{Body: b, Stamp: foreman(fmt.Sprintf("crowd-%09d", c.told))}, c.now)
		if err != nil {
			return err
		}
		if err := c.f.Apply(ev); err != nil {
			return err
		}
	}
	return nil
}

func (c *crowd) read(n int) error {
	return c.tell(&curesv1.ReadingTaken{ZoneId: "bay-1", ProbeId: "probe", TempC: warm(n)})
}

// lay surveys and lays one more seam.
func (c *crowd) lay(n int) error {
	ro := fmt.Sprintf("J%d", n/crowdJob)
	if n%crowdJob == 0 {
		if err := c.tell(
			&jobsv1.JobOpened{Ro: ro, Vehicle: "van", Coats: []floorv1.Coat{floorv1.Coat_COAT_WATERBORNE}},
			&materialsv1.CartridgeOpened{CartridgeId: "C" + ro, LotId: "L"},
			&materialsv1.NozzleFitted{NozzleId: "N" + ro, CartridgeId: "C" + ro}); err != nil {
			return err
		}
	}
	id := fmt.Sprintf("%s/s%d", ro, n%crowdJob)
	return c.tell(
		&jobsv1.SeamSurveyed{SeamId: id, Panel: "door", Place: "hem", Finish: floorv1.Finish_FINISH_COATED, Substrate: floorv1.Substrate_SUBSTRATE_E_COAT},
		&jobsv1.BeadLaid{SeamId: id, CartridgeId: "C" + ro, NozzleId: "N" + ro, Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: proto.Float64(1)})
}

// settle lets the beads come to the bay's air, with readings meanwhile.
func (c *crowd) settle() error {
	for i := range 4 {
		c.now = c.now.Add(2 * time.Minute)
		if err := c.read(i); err != nil {
			return err
		}
	}
	return nil
}

// running counts the clocks of all seams that have not ended.
func (c *crowd) running() int {
	n := 0
	for _, id := range c.f.Seams() {
		n += len(c.f.SeamClocks(id))
	}
	return n
}

// inUse is how much of the heap is alive.
func inUse() uint64 {
	var m runtime.MemStats
	runtime.GC()
	runtime.GC() // what the first one freed only after finalizers ran
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}

// clockMemory: what the cures service holds for each clock that it watches,
// beside the floor with its events.
func clockMemory(ctx context.Context, r *rig) ([]Figure, error) {
	c, err := newCrowd(pick(r, 25_000, 500))
	if err != nil {
		return nil, err
	}
	if err := c.settle(); err != nil {
		return nil, err
	}
	clocks := c.running()
	before := inUse()
	k := cures.NewKeeper(c.desk)
	if _, err := k.Step(ctx, c.now); err != nil {
		return nil, err
	}
	each := float64(inUse()-before) / float64(clocks)
	f := Figure{Name: "clock-memory", What: fmt.Sprintf("memory of a running clock beside its event, of %s", thousands(clocks)), Unit: "B", Ours: each}
	out := []Figure{f.judged(each, " B", atMost(200))}
	step, err := c.step(ctx, k, pick(r, 200, 10))
	if err != nil {
		return nil, err
	}
	runtime.KeepAlive(k)
	step.What = fmt.Sprintf("one reading in the whole service, fold and step, with %s clocks", thousands(clocks))
	return append(out, step), nil
}

// step is the median cost of a reading from its fold to the end of the
// keeper's step.
func (c *crowd) step(ctx context.Context, k *cures.Keeper, times int) (Figure, error) {
	took := make([]float64, times)
	for i := range took {
		c.now = c.now.Add(2 * time.Minute)
		ms, err := timed(func() error {
			if err := c.read(i); err != nil {
				return err
			}
			_, err := k.Step(ctx, c.now)
			return err
		})
		if err != nil {
			return Figure{}, err
		}
		took[i] = ms * 1000
	}
	return Figure{Name: "reading-service", Unit: "µs", Ours: median(took)}, nil
}
