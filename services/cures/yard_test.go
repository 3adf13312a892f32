package cures_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	"go.uber.org/goleak"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/anypb"
	"google.golang.org/protobuf/types/known/durationpb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/clock"
	"seamwright/services/cures"
	"seamwright/services/floor"
	"seamwright/services/journal"
	"seamwright/services/record"
	"seamwright/services/record/recordtest"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// tb is what a test and a property have in common.
type tb interface {
	Helper()
	Fatalf(string, ...any)
	Errorf(string, ...any)
}

// yard is a shop in driven time whose keeper announces.
type yard struct {
	*record.Desk
	t     tb
	time  *clock.Driven
	drive *clock.Drive
	told  int
	name  string
}

// newYard opens an empty shop on a journal; steps makes the actor that keeps
// its clocks.
func newYard(t tb, j journal.Journal, steps func(*record.Desk) clock.Actor) *yard {
	f, c := floor.New(), clock.NewDriven(recordtest.Monday)
	y := &yard{Desk: &record.Desk{Writer: journal.NewWriter(j, f), Floor: f, Clock: c}, t: t, time: c, name: "told"}
	y.drive = clock.NewDrive(c, j, y.Writer)
	y.drive.Add("keeper", y.patient(steps(y.Desk)))
	return y
}

// patient ends a test whose keeper has always more to tell.
func (y *yard) patient(a clock.Actor) clock.Actor {
	var at time.Time
	n := 0
	return clock.Func(func(ctx context.Context, now time.Time) (time.Time, error) {
		if n++; !now.Equal(at) {
			n, at = 0, now
		}
		if n > 50 {
			y.t.Fatalf("the keeper stepped %d times at %s: %v", n, now, y.said()[max(0, len(y.said())-6):])
		}
		return a.Step(ctx, now)
	})
}

func steady(d *record.Desk) clock.Actor { return cures.NewKeeper(d) }

type tell struct {
	body     proto.Message
	terminal string
	age      time.Duration
	kind     floorv1.AgeKind // of an age above 0; signed if not said: exact, wherever it is told
	role     floorv1.Role
}

// tell records a fact and returns its number.
func (y *yard) tell(body proto.Message) uint64 { return y.say(tell{body: body}) }

func (y *yard) ago(age time.Duration, body proto.Message) uint64 {
	return y.say(tell{body: body, age: age})
}

func (y *yard) say(w tell) uint64 {
	y.t.Helper()
	seq, err := y.try(w)
	if err != nil {
		y.t.Fatalf("%T: %v", w.body, err)
	}
	return seq
}

func (y *yard) try(w tell) (uint64, error) {
	y.told++
	st := &floorv1.Stamp{
		CommandId: fmt.Sprintf("%s-%06d", y.name, y.told), Actor: "Ansa Vellacorn", Role: floorv1.Role_ROLE_FOREMAN, Terminal: "desk",
		Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
	}
	if w.terminal != "" {
		st.Terminal = w.terminal
	}
	if w.role != 0 {
		st.Role = w.role
	}
	if w.age > 0 {
		st.Age = &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_SIGNED, Length: durationpb.New(w.age)}
		if w.kind != 0 {
			st.Age.Kind = w.kind
		}
	}
	r, err := y.Record(y.ctx(), floor.Command{Stamp: st, Body: w.body},
		func(f *floor.Floor, c floor.Command, at time.Time) (floor.Event, error) { return f.Decide(c, at) })
	return r.GetSequence(), err
}

// until lets time pass up to minutes after the beginning.
func (y *yard) until(minutes float64) {
	y.t.Helper()
	to := recordtest.Monday.Add(time.Duration(minutes * float64(time.Minute))).Truncate(time.Millisecond)
	if err := y.drive.AdvanceTo(y.ctx(), to); err != nil {
		y.t.Fatalf("to minute %g: %v", minutes, err)
	}
}

func (y *yard) rest() {
	y.t.Helper()
	if err := y.drive.Settle(y.ctx()); err != nil {
		y.t.Fatalf("%v", err)
	}
}

func (y *yard) read(zone string, c float64) uint64 {
	y.t.Helper()
	return y.tell(&curesv1.ReadingTaken{ZoneId: zone, ProbeId: "p-" + zone, TempC: c})
}

// steadily reads a zone every two minutes up to a moment.
func (y *yard) steadily(zone string, c, minutes float64) {
	y.t.Helper()
	begun := y.time.Now().Sub(recordtest.Monday).Minutes()
	for m := begun; m <= minutes; m += 2 {
		y.until(m)
		y.read(zone, c)
		y.rest()
	}
	y.until(minutes)
}

// furnish gives the shop two bays, a booth's room, a product, and a job with
// seams on a car.
func (y *yard) furnish() {
	y.t.Helper()
	for _, z := range []string{"bay-1", "bay-2", "room"} {
		y.tell(zoneOf(z))
	}
	y.tell(recordtest.Levelling())
	y.tell(&materialsv1.LotReceived{LotId: "L1", ProductId: "sl", Cartridges: 60})
	y.cartridge("C1", "N1")
	y.job("2207", "rd-l", "rd-r", "floor")
	y.tell(&boothv1.BoothDefined{BoothId: "booth-1", ZoneId: "room", FirstCoatMin: 20, ProcessMin: 60})
}

func zoneOf(id string) *curesv1.ZoneDefined {
	z := &curesv1.ZoneDefined{
		ZoneId: id, LimitLowC: 5, LimitHighC: 35, ProbeErrorC: 0.5, DriftCPerMin: 0.2, Works: id != "room",
		StaleAfter: durationpb.New(15 * time.Minute), Settling: durationpb.New(30 * time.Minute),
	}
	if z.Works {
		z.Terminals = []string{id + "-tablet"}
	}
	return z
}

func (y *yard) cartridge(id, nozzle string) {
	y.t.Helper()
	y.tell(&materialsv1.CartridgeOpened{CartridgeId: id, LotId: "L1"})
	y.tell(&materialsv1.CartridgeEqualised{CartridgeId: id, VolumeMl: proto.Float64(1)})
	y.tell(&materialsv1.NozzleFitted{CartridgeId: id, NozzleId: nozzle, Kind: "round"})
}

// job opens a job whose car has stood in the first bay for hours; the seam
// called floor is left exposed.
func (y *yard) job(ro string, seams ...string) {
	y.t.Helper()
	y.tell(&jobsv1.JobOpened{Ro: ro, Vehicle: "blue hatchback", Coats: []floorv1.Coat{floorv1.Coat_COAT_WATERBORNE}})
	y.ago(3*time.Hour, &jobsv1.CarMoved{Ro: ro, ZoneId: "bay-1"})
	for _, s := range seams {
		sv := &jobsv1.SeamSurveyed{
			SeamId: ro + "/" + s, Panel: "panel-" + s, Place: "roof ditch", Side: s, LengthMm: 1400,
			Orientation: floorv1.Orientation_ORIENTATION_LEVEL, Finish: floorv1.Finish_FINISH_COATED,
			Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER, Reference: &floorv1.Reference{},
		}
		if s == "floor" {
			sv.Finish = floorv1.Finish_FINISH_EXPOSED
		}
		y.tell(sv)
	}
}

func bead(seam string) *jobsv1.BeadLaid {
	return &jobsv1.BeadLaid{
		SeamId: seam, CartridgeId: "C1", NozzleId: "N1", Layer: floorv1.Layer_LAYER_BEAD,
		Lasted: durationpb.New(time.Minute), VolumeMl: proto.Float64(1),
	}
}

// lay lays a bead at a bay's tablet.
func (y *yard) lay(seam, bay string) uint64 {
	y.t.Helper()
	return y.say(tell{body: bead(seam), terminal: bay + "-tablet"})
}

func (y *yard) withdraw(seq uint64) {
	y.t.Helper()
	y.tell(&jobsv1.FactWithdrawn{Sequence: seq, Why: "told in error"})
}

func (y *yard) correct(seq uint64, body proto.Message) {
	y.t.Helper()
	y.tell(correction(y.t, seq, body))
}

func correction(t tb, seq uint64, body proto.Message) *jobsv1.FactCorrected {
	t.Helper()
	b, err := anypb.New(body)
	if err != nil {
		t.Fatalf("%v", err)
	}
	return &jobsv1.FactCorrected{Sequence: seq, Body: b, Why: "told wrongly"}
}

// at sets the clock without letting anything happen.
func (y *yard) at(minutes int) {
	y.t.Helper()
	if err := y.time.Set(recordtest.Monday.Add(time.Duration(minutes) * time.Minute)); err != nil {
		y.t.Fatalf("%v", err)
	}
}

// late tells a reading that was taken minutes ago.
func (y *yard) late(zone string, c float64, minutes int) uint64 {
	y.t.Helper()
	return y.ago(time.Duration(minutes)*time.Minute, &curesv1.ReadingTaken{ZoneId: zone, ProbeId: "p-late", TempC: c})
}
