package sim

import (
	"math"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

// paintBooth is the invented shop's, as its file has it.
func paintBooth() *booth {
	def := &boothv1.BoothDefined{BoothId: "booth-1", ZoneId: "booth-1", FirstCoatMin: 20, ProcessMin: 75}
	all := []string{"white", "blue", "silver", "red", "grey metallic"}
	for _, from := range all {
		for _, to := range all {
			m := 25.0
			switch {
			case from == to:
				m = 5
			case from == "white":
				m = 20
			case to == "white":
				m = 40
			}
			def.Setups = append(def.Setups, &boothv1.BoothDefined_Setup{From: from, To: to, Minutes: m})
		}
	}
	return newBooth(def)
}

// By hand, over cars of which 30 in 100 are white, 22 silver, 20 grey
// metallic, 16 blue and 12 red: from white 0.3 x 5 + 0.7 x 20 = 15.5; from
// silver 0.3 x 40 + 0.22 x 5 + 0.48 x 25 = 25.1; from grey metallic 25.5; from
// blue 26.3; from red 27.1. Together 0.3 x 15.5 + 0.22 x 25.1 + 0.2 x 25.5 +
// 0.16 x 26.3 + 0.12 x 27.1 = 22.732 min.
func TestTheReferenceRateOfSetups(t *testing.T) {
	if got := referenceSetup(paintBooth()).Minutes(); math.Abs(got-22.732) > 1e-6 {
		t.Errorf("%.4f min, want 22.732", got)
	}
}

func arrivalsOf(seed uint64, load float64, days int, p Policy) []Arrival {
	o := Options{Seed: seed, Days: days, Load: load, Policy: p, Start: began}
	return (&sim{opt: o, hours: hours{time.UTC}}).fixArrivals(paintBooth())
}

// The cars of a seed are the same under every policy, fill the booth to within
// half a car, come in within the hours of work and are promised for later.
func TestArrivalsAreFixedBeforehand(t *testing.T) {
	for _, load := range []float64{70, 85, 95} {
		first := arrivalsOf(7, load, 30, FirstCome)
		for _, p := range Policies() {
			if diff := cmp.Diff(first, arrivalsOf(7, load, 30, p)); diff != "" {
				t.Errorf("%s (-fcfs +%s):\n%s", p, p, diff)
			}
		}
		if sumArrivals(first) == sumArrivals(arrivalsOf(8, load, 30, FirstCome)) {
			t.Error("two seeds give the same cars")
		}
		// 2 to 31 March 2026 has 22 working days, the booth is open from 7:30 to 17:00.
		use := 0.0
		for i, a := range first {
			coats := map[int]int{0: 2, 1: 1, 2: 1, 3: 2}[a.Model] // in the booth that bakes
			use += 22.732 + 4 + a.First.Minutes() + 10 + 12*float64(coats-1) + 30 + 8
			h := hours{time.UTC}
			if !h.in(a.At, 0, shiftBegins, lastArrival) || a.Promised.Sub(a.At) < 24*time.Hour || !h.in(a.Promised, 0, shiftBegins, shiftEnds) {
				t.Errorf("car %s comes in %s and is promised for %s", a.RO, a.At, a.Promised)
			}
			if i > 0 && a.At.Before(first[i-1].At) {
				t.Errorf("car %s comes in before car %s", a.RO, first[i-1].RO)
			}
		}
		if want := 22 * 570 * load / 100; math.Abs(use-want) > 70 {
			t.Errorf("at %g %% the cars take %.0f min of the booth, want %.0f", load, use, want)
		}
	}
}

// Luck is of what it is about: what was drawn before does not move it.
func TestLuckIsFixed(t *testing.T) {
	draw := func(before int, load float64) time.Duration {
		s := &sim{opt: Options{Seed: 3, Load: load, Policy: FirstCome}, chance: stream(3, "work")}
		s.acting = &proc{s: s, name: "repair 3001", chance: stream(3, "x")}
		for range before {
			s.minutes(1, 2)
		}
		s.throw("seal ", "3001/rd-l")
		return s.minutes(1, 100)
	}
	if a, b := draw(0, 85), draw(5, 85); a != b {
		t.Errorf("%s, after other draws %s", a, b)
	}
	if a, b := draw(0, 0), draw(5, 0); a == b {
		t.Errorf("where luck is not fixed it is the same after other draws: %s", a)
	}
}

// order is the identifiers of loads in the order of a policy's list.
func order(s *sim, loads ...*load) []string {
	slices.SortStableFunc(loads, s.before)
	var out []string
	for _, l := range loads {
		out = append(out, l.id)
	}
	return out
}

func TestWhatComesFirst(t *testing.T) {
	waits := func(ro string, sealed, promised float64) *load {
		j := &job{ro: ro, def: &jobsv1.JobOpened{Ro: ro, Promised: timestamppb.New(after(promised))}}
		if sealed > 0 {
			j.sealedAt = after(sealed)
		}
		return &load{id: ro + "-A", job: j}
	}
	a, b, c := waits("3001", 300, 900), waits("3002", 200, 800), waits("3003", 0, 700)
	plan := sheetOf(&boothv1.Plan{
		Loads: []*boothv1.PlannedLoad{{LoadId: "3001-A", Order: 2}, {LoadId: "3003-A", Order: 1}},
		LayBy: []*boothv1.LayBy{{SeamId: "3003/x"}, {SeamId: "3001/x"}, {SeamId: "3003/y"}},
	})
	for _, w := range []struct {
		policy Policy
		want   []string
		tech   int // sign of the first car against the second one
	}{
		{FirstCome, []string{"3002-A", "3001-A", "3003-A"}, -1},
		{EarliestDue, []string{"3003-A", "3002-A", "3001-A"}, 1},
		{Planned, []string{"3003-A", "3001-A", "3002-A"}, -1},
	} {
		s := &sim{opt: Options{Policy: w.policy}, sheet: plan}
		if diff := cmp.Diff(w.want, order(s, a, b, c)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", w.policy, diff)
		}
		if got := s.sooner(&claim{job: a.job}, &claim{job: b.job}); got != w.tech {
			t.Errorf("%s: a technician's order of 3001 and 3002 is %d, want %d", w.policy, got, w.tech)
		}
	}
}

// A booth is kept free for a load that the plan has before one that is clear,
// until that load is overdue.
func TestThePlanKeepsTheBoothFree(t *testing.T) {
	b := &booth{id: "booth-1", def: &boothv1.BoothDefined{}}
	j := &job{def: &jobsv1.JobOpened{}}
	x, y := &load{id: "3001-A", booth: b, job: j}, &load{id: "3002-A", booth: b, job: j}
	s := &sim{loads: map[string]*load{"3001-A": x, "3002-A": y}, opt: Options{Policy: Planned}, now: after(100), sheet: sheetOf(&boothv1.Plan{Loads: []*boothv1.PlannedLoad{
		{LoadId: "3002-A", BoothId: "booth-1", Order: 1, Start: timestamppb.New(after(120))},
		{LoadId: "3001-A", BoothId: "booth-1", Order: 2, Start: timestamppb.New(after(220))},
		{LoadId: "3004-P", BoothId: "prep-1", Order: 1, Start: timestamppb.New(after(120))},
	}})}
	if !s.keptFree(b, x) {
		t.Error("the booth is not kept free for the load that goes before")
	}
	if s.keptFree(b, y) {
		t.Error("the booth is kept free for the load itself")
	}
	if s.now = after(20); s.keptFree(b, x) {
		t.Error("the booth is kept free though the other load would be out before")
	}
	for _, w := range []struct {
		at   float64
		kept bool
	}{{116, true}, {125, true}, {126, false}} {
		if s.now = after(w.at); s.keptFree(b, x) != w.kept {
			t.Errorf("%g minutes on the booth is kept free: %t, want %t; the load was to begin after 120 and is held", w.at, !w.kept, w.kept)
		}
	}
	if s.opt.Policy, s.now = FirstCome, after(100); s.keptFree(b, x) {
		t.Error("the booth is kept free without a plan")
	}
}
