package console

import (
	"io/fs"
	"math/rand/v2"
	"time"
	_ "time/tzdata" // the soak's shops keep summer time wherever the program runs

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	"seamwright/services/fault"
	"seamwright/services/intake"
	"seamwright/services/sim"
	"seamwright/testdata/shop"
)

// soakShop is one small shop of a soak: two bays, a paint booth, the yard. All
// that is particular about it comes from its seed.
type soakShop struct {
	seed   uint64
	years  int
	start  time.Time // midnight by its own wall clock
	habits sim.Habits
	zones  []*curesv1.ZoneDefined
	booth  *boothv1.BoothDefined
	chance *rand.Rand // what the rest is made with
}

// soakClocks are the wall clocks that the shops keep: with summer time on
// either half of the globe, with one that shifts by half an hour, with none.
var soakClocks = []string{"Europe/Vienna", "America/Chicago", "Australia/Lord_Howe", "America/Santiago", "UTC"}

// yearsOf is how many years the shop of a seed runs on in one journal: most
// run one.
func yearsOf(seed uint64) int {
	switch seed % 16 {
	case 7:
		return 3
	case 3, 11:
		return 2
	}
	return 1
}

// shopOf makes the shop of a seed.
func shopOf(seed uint64) (soakShop, error) {
	r := rand.New(rand.NewPCG(seed, 0x5eed))
	loc, err := time.LoadLocation(soakClocks[r.IntN(len(soakClocks))])
	if err != nil {
		return soakShop{}, fault.Wrap(err, fault.Internal, "wall-clock", "")
	}
	day := []time.Duration{15 * time.Minute, 20 * time.Minute, 20 * time.Minute}[r.IntN(3)]
	night := []time.Duration{2 * time.Hour, 4 * time.Hour, 6 * time.Hour}[r.IntN(3)]
	s := soakShop{
		chance: r, seed: seed, years: yearsOf(seed), start: time.Date(2026, time.Month(1+r.IntN(12)), 1+r.IntN(28), 0, 0, 0, 0, loc).UTC(),
		habits: sim.Habits{
			Zone: loc, Arrivals: 3, Idle: 0.77, ByDay: day, ByNight: night, Ease: 4, LookEase: 10, CheckDays: 45, ProveDays: 370, Seasons: true, OnAsking: true, Unheard: true, Step: time.Minute,
		},
	}
	stale := durationpb.New(2*day + time.Duration(5+r.IntN(6))*time.Minute)
	zone := func(id string, low, high, drift float64, settling int, works bool, terminals ...string) {
		s.zones = append(s.zones, &curesv1.ZoneDefined{
			ZoneId: id, LimitLowC: low, LimitHighC: high, ProbeErrorC: 0.3 + 0.1*float64(r.IntN(4)), DriftCPerMin: drift,
			StaleAfter: stale, Settling: durationpb.New(time.Duration(settling) * time.Minute), Works: works, Terminals: terminals,
		})
	}
	zone("bay-1", 5, 35, 0.12+0.02*float64(r.IntN(4)), 25+5*r.IntN(3), true, "bay-1-tablet")
	zone("bay-2", 0, 35, 0.15+0.05*float64(r.IntN(3)), 30, true, "bay-2-tablet")
	zone("booth-1", 5, 90, 2, 20, false, "booth-screen")
	zone("outdoors", -25, 45, 0.3, 30, false)
	s.booth = &boothv1.BoothDefined{BoothId: "booth-1", ZoneId: "booth-1", FirstCoatMin: 15 + 5*float64(r.IntN(2)), ProcessMin: 75}
	for _, from := range []string{"white", "silver"} {
		for _, to := range []string{"white", "silver"} {
			s.booth.Setups = append(s.booth.Setups, &boothv1.BoothDefined_Setup{From: from, To: to, Minutes: 15})
		}
	}
	return s, nil
}

// furniture are the facts that the shop begins with.
func (s soakShop) furniture() ([]proto.Message, error) {
	var out []proto.Message
	for _, z := range s.zones {
		out = append(out, z)
	}
	out = append(out, s.booth)
	const folder = "products"
	entries, err := fs.ReadDir(shop.Files, folder)
	if err != nil {
		return nil, fault.Wrap(err, fault.Internal, "products", "")
	}
	for _, e := range entries {
		f, err := shop.Files.Open(folder + "/" + e.Name())
		if err != nil {
			return nil, fault.Wrap(err, fault.Internal, "products", "")
		}
		p, err := intake.ReadProduct(e.Name(), f)
		if err != nil {
			return nil, err
		}
		fact, err := productFact(p)
		if err != nil {
			return nil, err
		}
		if c := fact.GetCure(); s.chance.IntN(3) == 0 && c.GetActivationLowKjMol() == c.GetActivationHighKjMol() {
			c.ActivationLowKjMol -= 6 // a sheet that knows it no better
			c.ActivationHighKjMol += 6
		}
		out = append(out, fact)
	}
	return out, nil
}
