package floor

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

var plannedDay = time.Date(2026, 3, 2, 7, 30, 0, 0, time.UTC)

// berth is a floor with two booths and two jobs, told one thing after the other.
type berth struct {
	t   *testing.T
	f   *Floor
	now time.Time
}

func newBerth(t *testing.T) *berth {
	b := &berth{t, New(), plannedDay}
	b.tell(&curesv1.ZoneDefined{ZoneId: "room", LimitLowC: 5, LimitHighC: 35, ProbeErrorC: 0.5, DriftCPerMin: 0.2, StaleAfter: durationpb.New(15 * time.Minute)})
	for _, id := range []string{"b1", "b2"} {
		b.tell(&boothv1.BoothDefined{BoothId: id, ZoneId: "room", ProcessMin: 60})
	}
	for i, ro := range []string{"1", "2"} {
		b.tell(&jobsv1.JobOpened{Ro: ro, Vehicle: "van", Promised: timestamppb.New(plannedDay.Add(time.Duration(9-i) * time.Hour))})
		b.tell(&boothv1.LoadPlanned{LoadId: ro + "-A", BoothId: "b1", Ro: ro, Colour: "blue", SeamIds: nil})
	}
	return b
}

func (b *berth) tell(body proto.Message) uint64 {
	b.t.Helper()
	b.now = b.now.Add(time.Minute)
	ev, err := b.f.Decide(Command{Body: body, Stamp: &floorv1.Stamp{
		CommandId: fmt.Sprint("c-", b.f.Seq()+1, "-test"), Actor: "Ansa Vellacorn", Role: floorv1.Role_ROLE_FOREMAN, Terminal: "desk",
		Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
	}}, b.now)
	if err != nil {
		b.t.Fatal(err)
	}
	return b.apply(ev)
}

// move is what the planner does with a load.
func (b *berth) move(load, booth string, start time.Time) {
	b.t.Helper()
	b.now = b.now.Add(time.Minute)
	ev := b.f.Own("booth-planner", fmt.Sprint("plan.", load, ".", b.f.Seq()+1), b.now)
	body := proto.CloneOf(b.f.ToldLoad(LoadID(load)))
	body.BoothId, body.Start, body.Reason, body.Moved = booth, nil, "behind another", true
	if !start.IsZero() {
		body.Start = timestamppb.New(start)
	}
	ev.Seq, ev.Aggregate, ev.Body = b.f.Seq()+1, LoadID(load).Aggregate(), body
	b.apply(ev)
}

func (b *berth) apply(ev Event) uint64 {
	b.t.Helper()
	if err := b.f.Apply(ev); err != nil {
		b.t.Fatal(err)
	}
	return ev.Seq
}

func (b *berth) load() Load { return *b.f.Load("1-A") }

// What somebody gives with a load is kept as far as they say.
func TestWhatIsKeptOfALoadsPlace(t *testing.T) {
	ten := timestamppb.New(plannedDay.Add(150 * time.Minute))
	for name, c := range map[string]struct {
		start *timestamppb.Timestamp
		keep  boothv1.Keep
		want  Keep
	}{
		"nothing given":             {nil, boothv1.Keep_KEEP_UNSPECIFIED, KeepNothing},
		"a start":                   {ten, boothv1.Keep_KEEP_UNSPECIFIED, KeepStart},
		"a start to begin with":     {ten, boothv1.Keep_KEEP_NOTHING, KeepNothing},
		"a start, the booth kept":   {ten, boothv1.Keep_KEEP_BOOTH, KeepBooth},
		"a start, both kept":        {ten, boothv1.Keep_KEEP_START, KeepStart},
		"the booth":                 {nil, boothv1.Keep_KEEP_BOOTH, KeepBooth},
		"a start kept that is none": {nil, boothv1.Keep_KEEP_START, KeepBooth},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBerth(t)
			b.tell(&boothv1.LoadPlanned{LoadId: "1-A", BoothId: "b1", Ro: "1", Start: c.start, Keep: c.keep})
			if got := b.load().Keep; got != c.want {
				t.Errorf("kept %q, want %q", got, c.want)
			}
			was := b.load()
			noon := plannedDay.Add(4 * time.Hour)
			b.move("1-A", "b2", noon)
			l := b.load()
			if moved := l.Booth == "b2"; moved != (c.want == KeepNothing) {
				t.Errorf("moved to another booth: %v", moved)
			}
			if moved := l.Start.Equal(noon); moved != (c.want != KeepStart) {
				t.Errorf("moved to another start: %v, it was %s", moved, was.Start)
			}
			if l.Told != "b1" || l.RO != "1" {
				t.Errorf("told for %s of %s", l.Told, l.RO)
			}
		})
	}
}

// A load that was moved is as it was told in all else: a correction of what
// was told counts, told again it is as told, and sprayed it stays.
func TestWhereAPlannerPutsALoad(t *testing.T) {
	b := newBerth(t)
	noon := plannedDay.Add(4 * time.Hour)
	b.move("1-A", "b2", noon)
	b.tell(&boothv1.LoadPlanned{LoadId: "1-A", BoothId: "b1", Ro: "1", Colour: "red"})
	if l := b.load(); l.Booth != "b1" || !l.Start.IsZero() || l.Colour != "red" || l.Moved || l.Reason != "" {
		t.Errorf("told again it is %+v", l)
	}
	b.move("1-A", "b2", noon)
	b.move("1-A", "b1", noon.Add(time.Hour))
	if l := b.load(); l.Booth != "b1" || !l.Start.Equal(noon.Add(time.Hour)) || !l.Moved || l.Reason == "" {
		t.Errorf("moved twice it is %+v", l)
	}
	b.move("1-A", "b1", time.Time{})
	if l := b.load(); !l.Start.IsZero() {
		t.Errorf("without a place it starts at %s", l.Start)
	}
	b.tell(&boothv1.SprayStarted{BoothId: "b1", LoadId: "1-A"})
	b.move("1-A", "b2", noon)
	if l := b.load(); l.Booth != "b1" || b.f.Booth("b1").Colour != "red" {
		t.Errorf("sprayed and moved it is %+v, the gun has %s", l, b.f.Booth("b1").Colour)
	}
	replay := New()
	for n := uint64(1); n <= b.f.Seq(); n++ {
		ev, _, _ := b.f.Event(n)
		if err := replay.Apply(ev); err != nil {
			t.Fatal(err)
		}
	}
	if replay.Hash() != b.f.Hash() {
		t.Error("replayed, the floor is another")
	}
}

// The gate's order is the plan's; what has no start comes behind, by promise.
func TestTheGatesOrderIsThePlans(t *testing.T) {
	b := newBerth(t)
	order := func() []LoadID { return b.f.NextLoads("b1") }
	if got := order(); !slices.Equal(got, []LoadID{"2-A", "1-A"}) {
		t.Errorf("by promise: %v", got)
	}
	b.move("1-A", "b1", plannedDay.Add(5*time.Hour))
	if got := order(); !slices.Equal(got, []LoadID{"1-A", "2-A"}) {
		t.Errorf("with one start: %v", got)
	}
	b.move("2-A", "b1", plannedDay.Add(4*time.Hour))
	if got := order(); !slices.Equal(got, []LoadID{"2-A", "1-A"}) {
		t.Errorf("by start: %v", got)
	}
}

// Only the planner moves loads, and only booths that there are may take one.
func TestWhatALoadMayNotSay(t *testing.T) {
	b := newBerth(t)
	for name, body := range map[string]*boothv1.LoadPlanned{
		"moved by a person": {LoadId: "1-A", BoothId: "b1", Ro: "1", Moved: true},
		"another booth":     {LoadId: "1-A", BoothId: "b1", Ro: "1", AlsoBoothIds: []string{"b9"}},
	} {
		if _, err := b.f.Decide(Command{Body: body, Stamp: &floorv1.Stamp{
			CommandId: "refused", Actor: "Ansa Vellacorn", Role: floorv1.Role_ROLE_FOREMAN, Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
		}}, b.now); err == nil {
			t.Errorf("%s: taken", name)
		}
	}
}
