package materials_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/floor"
	"seamwright/services/record/recordtest"
)

const aDay = 24 * time.Hour

// lapses are what is said to lapse, in short.
func lapses(p *materialsv1.ProductStock) (out []string) {
	for _, l := range p.GetLapses() {
		what := l.GetLotId()
		if l.GetCartridgeId() != "" {
			what = l.GetCartridgeId()
		}
		out = append(out, fmt.Sprintf("%s %d %.0f %v: %s", what, l.GetCartridges(), l.GetVolumeMl(), l.GetPast(), l.GetWhy()))
	}
	return out
}

// What has lapsed is told from what will, and whether that is said of a use
// that is known, of none, or of one that nobody knows.
func TestWhatHasLapsedAndWhatWill(t *testing.T) {
	s, c := ahead(t)
	s.Tell(t, &materialsv1.LotReceived{LotId: "OLD", ProductId: "sl", Cartridges: 2, Expires: timestamppb.New(recordtest.Monday.Add(-5 * aDay))})
	s.Tell(t, &materialsv1.LotReceived{LotId: "NEW", ProductId: "sl", Cartridges: 1, Expires: timestamppb.New(recordtest.Monday.Add(40 * aDay))})
	got := ask(t, c, "sl")
	const unknown = " unless it is used by then: how much a week takes is not known yet"
	want := []string{
		"OLD 2 400 true: its lot expired",
		"NEW 1 200 false: it expires on 2026-04-11" + unknown,
		"C1 1 200 false: its life once opened ends on 2026-05-31" + unknown,
		"L1 5 1000 false: it expires on 2027-03-02" + unknown,
	}
	if !slices.Equal(lapses(got), want) || got.GetUse() != "unknown" {
		t.Errorf("use %s:\n%s\nwant unknown:\n%s", got.GetUse(), strings.Join(lapses(got), "\n"), strings.Join(want, "\n"))
	}
	pass := func(d time.Duration) {
		t.Helper()
		if err := s.Time.Advance(d); err != nil {
			t.Fatal(err)
		}
	}
	pass(15 * aDay)
	got = ask(t, c, "sl")
	if w := "NEW 1 200 false: it expires on 2026-04-11, and nothing of it was used lately"; got.GetUse() != "none" || !slices.Contains(lapses(got), w) || !strings.Contains(got.GetWhy(), "nothing of it was used in 2 weeks") {
		t.Errorf("use %s, %s:\n%s\nwant none, with %s", got.GetUse(), got.GetWhy(), strings.Join(lapses(got), "\n"), w)
	}
	s.Tell(t, &jobsv1.JobOpened{Ro: "2207", Vehicle: "blue hatchback"})
	planned(t, s, "2207/a", "roof", 40, true)
	s.Tell(t, &jobsv1.BeadLaid{SeamId: "2207/a", CartridgeId: "C1", Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: proto.Float64(40)})
	pass(time.Hour)
	got = ask(t, c, "sl")
	if got.GetUse() != "known" || got.GetWeeklyUse() != 0.1 {
		t.Errorf("use %s of %g", got.GetUse(), got.GetWeeklyUse())
	}
	if !slices.ContainsFunc(lapses(got), func(l string) bool { return strings.HasSuffix(l, " before it is used up at 0.10 cartridges a week") }) || !slices.Contains(lapses(got), want[0]) {
		t.Errorf("at a known use:\n%s", strings.Join(lapses(got), "\n"))
	}
	sheet := recordtest.Levelling()
	sheet.LeadTimeDays = 0 // a sheet without it takes nothing from what is known of the use
	s.Tell(t, sheet)
	if again := ask(t, c, "sl"); !slices.Equal(lapses(again), lapses(got)) || again.GetWeeklyUse() != 0.1 || again.GetUse() != "known" {
		t.Errorf("without a lead time, use %s of %g:\n%s", again.GetUse(), again.GetWeeklyUse(), strings.Join(lapses(again), "\n"))
	}
}

// What has lapsed altogether does not run out some time: none is there.
func TestStockThatIsNotThereRunsOutNever(t *testing.T) {
	s, c := ahead(t)
	s.Tell(t, &materialsv1.StockCounted{LotId: "L1", Cartridges: 0})
	s.Tell(t, &materialsv1.CartridgeEmptied{CartridgeId: "C1", Discarded: true})
	s.Tell(t, &materialsv1.LotReceived{LotId: "OLD", ProductId: "sl", Cartridges: 2, Expires: timestamppb.New(recordtest.Monday.Add(-5 * aDay))})
	if got := ask(t, c, "sl"); got.GetShelf() != 0 || got.RunsOut != nil || len(got.GetLapses()) != 1 {
		t.Errorf("%v", got)
	}
}

// Use that is told late counts in the week in which it was, also when that was
// before the shop's first fact was heard; until two weeks are known of it is
// said what there is and what is wanted.
func TestUseThatIsToldLate(t *testing.T) {
	s, c := ahead(t)
	if got, want := ask(t, c, "sl").GetWhy(), "its use is known since 2026-03-02, a day or less; two weeks are wanted, which is from 2026-03-16 on: order by experience until then"; got != want {
		t.Errorf("on the first day: %q, want %q", got, want)
	}
	s.Tell(t, &jobsv1.JobOpened{Ro: "2207", Vehicle: "blue hatchback"})
	late := func(days int, body proto.Message) {
		t.Helper()
		st := s.Stamp(floorv1.Role_ROLE_FOREMAN)
		st.Age = &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_CLAIMED, Length: durationpb.New(time.Duration(days) * aDay)}
		if _, err := s.Record(t.Context(), floor.Command{Stamp: st, Body: body}, (*floor.Floor).Decide); err != nil {
			t.Fatal(err)
		}
	}
	for i, days := range []int{5, 12, 20} {
		id := fmt.Sprint("2207/s", i)
		planned(t, s, id, "roof", 20, true)
		late(days, &jobsv1.BeadLaid{SeamId: id, CartridgeId: "C1", Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: proto.Float64(float64(20 * (i + 1)))})
		if got, want := ask(t, c, "sl").GetWhy(), fmt.Sprintf("%d days; two weeks are wanted", days); days < 14 && !strings.Contains(got, want) {
			t.Errorf("%d days back: %q, want %q", days, got, want)
		}
	}
	// Known for 20 days are the last two weeks: 20 ml in the one, 40 in the other, of 200.
	if got := ask(t, c, "sl"); got.GetUse() != "known" || got.GetWeeks() != 2 || got.GetWeeklyUse() < 0.15-1e-9 || got.GetWeeklyUse() > 0.15+1e-9 {
		t.Errorf("use %s of %g over %d weeks", got.GetUse(), got.GetWeeklyUse(), got.GetWeeks())
	}
	// A lot of it came four weeks ago: 20, 40, 60 ml and nothing in the first.
	late(28, &materialsv1.LotReceived{LotId: "L4", ProductId: "sl", Cartridges: 1})
	if got := ask(t, c, "sl"); got.GetWeeks() != 4 || math.Abs(got.GetWeeklyUse()-0.15) > 1e-9 || math.Abs(got.GetWeeklyDeviation()-math.Sqrt(2000./3)/200) > 1e-9 {
		t.Errorf("use %s of %g ± %g over %d weeks", got.GetUse(), got.GetWeeklyUse(), got.GetWeeklyDeviation(), got.GetWeeks())
	}
}

// Why something is ordered, or not yet, is said of what is on the shelf.
func TestWhySomethingIsOrdered(t *testing.T) {
	s, c := ahead(t)
	s.Tell(t, &jobsv1.JobOpened{Ro: "2207", Vehicle: "blue hatchback"})
	for i := range 3 {
		id := fmt.Sprint("2207/s", i)
		planned(t, s, id, "roof", 60, true)
		s.Tell(t, &jobsv1.BeadLaid{SeamId: id, CartridgeId: "C1", Layer: floorv1.Layer_LAYER_BEAD, VolumeMl: proto.Float64(60)})
		if err := s.Time.Advance(5 * aDay); err != nil {
			t.Fatal(err)
		}
	}
	for left, want := range map[int32]string{
		5: "5 cartridges are on the shelf; order when 1 or fewer are left",
		1: "1 cartridge is on the shelf, and at 1 or fewer it is time to order: until a delivery ",
	} {
		s.Tell(t, &materialsv1.StockCounted{LotId: "L1", Cartridges: left})
		if got := ask(t, c, "sl"); !strings.HasPrefix(got.GetWhy(), want) {
			t.Errorf("%d on the shelf: %q, want %q", left, got.GetWhy(), want)
		}
	}
}
