package floor

import (
	"fmt"
	"reflect"
	"slices"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"
	"pgregory.net/rapid"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

// told is a floor that is told things in any order.
type told struct {
	t   *rapid.T
	f   *Floor
	now time.Time
	n   int
}

func (o *told) tell(age time.Duration, body proto.Message) {
	o.n++
	o.now = o.now.Add(time.Minute)
	ev, err := o.f.Decide(Command{Body: body, Stamp: &floorv1.Stamp{
		CommandId: fmt.Sprintf("c-%d", o.n), Actor: "Ansa Vellacorn", Role: floorv1.Role_ROLE_FOREMAN, Terminal: "desk",
		Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_SIGNED, Length: durationpb.New(age)},
	}}, o.now)
	if err != nil {
		return // what was taken back before is not known any more
	}
	if err := o.f.Apply(ev); err != nil {
		o.t.Fatal(err)
	}
}

// zone defines one in which some of the terminals stand.
func (o *told) zone(id string, age time.Duration, terminals ...string) {
	o.tell(age, &curesv1.ZoneDefined{
		ZoneId: id, LimitLowC: 5, LimitHighC: 35, ProbeErrorC: 0.5, DriftCPerMin: 0.2, Works: true,
		StaleAfter: durationpb.New(15 * time.Minute), Settling: durationpb.New(30 * time.Minute), Terminals: terminals,
	})
}

// check compares what is derived step by step with what all facts together
// give.
func (o *told) check() {
	f := o.f
	for _, id := range f.Booths() {
		if want := foldBooth(f.book, id); !reflect.DeepEqual(want, f.booths[id]) {
			o.t.Fatalf("event %d, %s:\n%+v, all its facts give\n%+v", f.seq, id, f.booths[id], want)
		}
	}
	for _, t := range []string{"t1", "t2", "t3", "nowhere", ""} {
		for back := range 12 {
			at := o.now.Add(-time.Duration(back) * 10 * time.Minute)
			if got, want := f.terminalZone(f.book, t, at), f.standsIn(f.book, t, at); t != "" && got != want {
				o.t.Fatalf("event %d: %s stood in %q at %s, the definitions say %q", f.seq, t, got, at, want)
			}
		}
	}
}

// Whatever is told about booths and terminals, late, again or taken back: what
// is derived from the newest fact alone is what all facts give.
func TestWhatIsDerivedStepByStepIsWhatAllFactsGive(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := &told{t: t, f: New(), now: time.Date(2026, 3, 2, 7, 30, 0, 0, time.UTC)}
		o.zone("z1", 0, "t1", "t2")
		o.zone("z2", 0, "t3")
		booth := func(id, zone string) *boothv1.BoothDefined {
			return &boothv1.BoothDefined{BoothId: id, ZoneId: zone, FirstCoatMin: 20, ProcessMin: 60}
		}
		load := func(id, in, colour string) *boothv1.LoadPlanned {
			return &boothv1.LoadPlanned{LoadId: id, BoothId: in, Ro: "2207", Colour: colour}
		}
		ids := []string{"b1", "b2"}
		for _, b := range ids {
			o.tell(0, booth(b, "z1"))
		}
		o.tell(0, &jobsv1.JobOpened{Ro: "2207", Vehicle: "van"})
		loads := []string{"2207-A", "2207-B", "2207-C"}
		for _, l := range loads {
			o.tell(0, load(l, "b1", "blue"))
		}
		for range rapid.IntRange(1, 30).Draw(t, "facts") {
			age := time.Duration(rapid.SampledFrom([]int{0, 0, 0, 5, 33, 100}).Draw(t, "age")) * time.Minute
			b, l := rapid.SampledFrom(ids).Draw(t, "booth"), rapid.SampledFrom(loads).Draw(t, "load")
			z := rapid.SampledFrom([]string{"z1", "z2"}).Draw(t, "zone")
			switch rapid.IntRange(0, 9).Draw(t, "what") {
			case 0:
				o.zone(z, age, slices.DeleteFunc([]string{"t1", "t2", "t3"}, func(string) bool { return rapid.Bool().Draw(t, "gone") })...)
			case 1:
				o.tell(age, booth(b, z))
			case 2:
				o.tell(age, load(l, b, rapid.SampledFrom([]string{"red", "white"}).Draw(t, "colour")))
			case 3:
				o.tell(age, &boothv1.BoothPhaseChanged{BoothId: b, Phase: boothv1.Phase_PHASE_BAKING, Expected: durationpb.New(time.Hour)})
			case 4:
				o.tell(age, &boothv1.BoothFaulted{BoothId: b, What: "fan"})
			case 5:
				o.tell(age, &boothv1.BoothReset{BoothId: b, What: "fan"})
			case 6, 7:
				o.tell(age, &boothv1.SprayStarted{BoothId: b, LoadId: l})
			case 8:
				o.tell(age, &boothv1.LoadFinished{BoothId: b, LoadId: l})
			default:
				seq := rapid.Uint64Range(1, o.f.Seq()).Draw(t, "fact")
				if ev, counts, _ := o.f.Event(seq); counts && retractable(ev) {
					o.tell(0, &jobsv1.FactWithdrawn{Sequence: seq, Why: "told in error"})
				}
			}
			o.check()
		}
	})
}
