package intake

import (
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"seamwright/services/calc/spec"
)

const shop = "../../testdata/shop/"

// readAll reads each file of a kind in a folder of the invented shop.
func readAll[T any](t *testing.T, pattern string, read func(*testing.T, string) T) map[string]T {
	t.Helper()
	names, err := filepath.Glob(shop + pattern)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]T{}
	for _, n := range names {
		base := filepath.Base(n)
		out[base[:len(base)-len(filepath.Ext(base))]] = read(t, n)
	}
	return out
}

func open(t *testing.T, name string) *os.File {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	return f
}

func product(t *testing.T, name string) Product {
	t.Helper()
	p, err := ReadProduct(name, open(t, name))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func survey(t *testing.T) []Job {
	t.Helper()
	jobs, err := ReadSurvey("survey.csv", open(t, shop+"survey.csv"))
	if err != nil {
		t.Fatal(err)
	}
	return jobs
}

func TestShopProducts(t *testing.T) {
	products := readAll(t, "products/*.yaml", product)
	count := map[spec.Class]int{}
	for file, p := range products {
		if file != p.ID {
			t.Errorf("%s.yaml holds %s", file, p.ID)
		}
		count[p.Class]++
		if p.Lab == nil || p.Price == "" || len(p.Substrates) == 0 || len(p.Cure.Over) != 4 {
			t.Errorf("%s is not whole: %+v", file, p)
		}
	}
	if len(products) != 10 || count[spec.SelfLevelling] != 2 || count[spec.MediumBodied] != 3 || count[spec.HeavyBodied] != 5 {
		t.Errorf("%d products: %v", len(products), count)
	}
	if b := products["mb-grey-cold"].Cure.ActivationEnergyBandKJMol; b == nil || *b != [2]float64{45, 60} {
		t.Errorf("band %v", b)
	}
	if p := products["hb-white-quick"].Cure; len(p.Points) != 5 || p.ActivationEnergyKJMol != nil {
		t.Errorf("points %v", p.Points)
	}
	if products["sl-grey-high"].Build != spec.HighBuild || products["sl-grey"].Build != spec.StandardBuild || products["hb-white"].Build != "" {
		t.Error("builds are not as in the files")
	}
}

func TestShopSurvey(t *testing.T) {
	jobs := survey(t)
	seams, exposed, hidden, notes := 0, 0, 0, 0
	for _, j := range jobs {
		seams += len(j.Seams)
		notes += len(j.VINNotes)
		for _, s := range j.Seams {
			if s.Finish == spec.Exposed {
				exposed++
			}
			if s.Hidden() {
				hidden++
				if s.Class != "" || s.Substrate != "" || s.WidthMM != nil {
					t.Errorf("%s/%s is hidden and yet known: %+v", j.RO, s.ID, s)
				}
			}
		}
	}
	if len(jobs) != 5 || seams != 53 || exposed != 11 || hidden != 6 || notes != 1 {
		t.Errorf("%d jobs, %d seams, %d exposed, %d hidden, %d notes", len(jobs), seams, exposed, hidden, notes)
	}
	if want := time.Date(2026, 3, 2, 16, 30, 0, 0, time.UTC); !jobs[1].Promised.Equal(want) || jobs[1].Vehicle != "blue hatchback" {
		t.Errorf("second job %+v", jobs[1])
	}
}

// Every seam of the shop gets a plan from the shop's products; only the
// hidden ones and the ochre pocket are left to a person.
func TestShopPlans(t *testing.T) {
	products := []spec.Product{}
	for _, p := range readAll(t, "products/*.yaml", product) {
		products = append(products, p.Spec())
	}
	used := map[string]int{}
	beds := 0
	for _, j := range survey(t) {
		for _, s := range j.Seams {
			p := spec.PlanFor(s.Spec(j.Coats), products)
			open := s.Hidden() || s.Colour == "ochre"
			if p.NeedsDecision != open {
				t.Errorf("%s/%s: needs a decision %v, open %q", j.RO, s.ID, p.NeedsDecision, p.Undecided)
			}
			if !open && (p.ProductID == "" || p.Class != s.Class || p.Profile != s.Profile) {
				t.Errorf("%s/%s: %+v", j.RO, s.ID, p)
			}
			used[p.ProductID]++
			if p.Technique.WetBed() {
				beds++
			}
		}
	}
	if beds != 2 {
		t.Errorf("%d wet beds, want the two aprons", beds)
	}
	for _, id := range []string{"sl-grey", "sl-grey-high", "mb-grey", "mb-white", "hb-white", "hb-grey", "hb-black", "hb-beige"} {
		if used[id] == 0 {
			t.Errorf("%s is never used: %v", id, used)
		}
	}
}

func TestShopZonesBoothsAndLoads(t *testing.T) {
	zones := readAll(t, "zones/*.yaml", func(t *testing.T, name string) Zone {
		z, err := ReadZone(name, open(t, name))
		if err != nil {
			t.Fatal(err)
		}
		return z
	})
	booths := readAll(t, "booths/*.yaml", func(t *testing.T, name string) Booth {
		b, err := ReadBooth(name, open(t, name))
		if err != nil {
			t.Fatal(err)
		}
		return b
	})
	if len(zones) != 6 || len(booths) != 2 {
		t.Fatalf("%d zones, %d booths", len(zones), len(booths))
	}
	for id, b := range booths {
		if _, ok := zones[b.ZoneID]; !ok || id != b.ID || len(b.Open) != 5 {
			t.Errorf("booth %s: %+v", id, b)
		}
	}
	loads, err := ReadLoads("loads.csv", open(t, shop+"loads.csv"))
	if err != nil {
		t.Fatal(err)
	}
	coated := map[string]bool{}
	for _, j := range survey(t) {
		for _, s := range j.Seams {
			coated[j.RO+"/"+s.ID] = s.Finish == spec.Coated
		}
	}
	primer, sprayed := 0, map[string]bool{}
	for _, l := range loads {
		b, ok := booths[l.BoothID]
		if !ok || !b.MayTake(l.Coat) {
			t.Errorf("load %s: booth %s does not take %s", l.ID, l.BoothID, l.Coat)
		}
		if _, ok := b.SetupMin[l.Colour]; !ok {
			t.Errorf("load %s: booth %s has no setup for %s", l.ID, b.ID, l.Colour)
		}
		if l.Coat == spec.PrimerSurfacer && l.BoothID == "prep-1" {
			primer++
		}
		for _, s := range l.Seams {
			if !coated[l.RO+"/"+s] {
				t.Errorf("load %s: %s/%s is not a coated seam", l.ID, l.RO, s)
			}
			sprayed[l.RO+"/"+s] = true
		}
	}
	if len(loads) != 8 || primer != 2 {
		t.Errorf("%d loads, %d in the prep station", len(loads), primer)
	}
	for id, c := range coated {
		if c != sprayed[id] {
			t.Errorf("seam %s: coated %v, in a load %v", id, c, sprayed[id])
		}
	}
}

func TestShopReadings(t *testing.T) {
	days := readAll(t, "readings/*.csv", func(t *testing.T, name string) []Reading {
		r, err := ReadReadings(name, open(t, name))
		if err != nil {
			t.Fatal(err)
		}
		return r
	})
	if len(days) != 6 {
		t.Fatalf("%d zones have readings", len(days))
	}
	at := func(zone, clock string) float64 {
		when, err := time.Parse(time.RFC3339, "2026-03-02T"+clock+":00Z")
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(days[zone], func(r Reading) bool { return r.At.Equal(when) })
		if i < 0 {
			t.Fatalf("%s has no reading at %s", zone, clock)
		}
		return days[zone][i].TempC
	}
	for zone, rs := range days {
		if len(rs) != 720 {
			t.Errorf("%s: %d readings", zone, len(rs))
		}
		for i := 1; i < len(rs); i++ {
			if rs[i].At.Sub(rs[i-1].At) != 2*time.Minute || rs[i].RHPercent == nil {
				t.Fatalf("%s: reading %d is %+v", zone, i, rs[i])
			}
		}
	}
	for _, c := range []struct {
		zone, clock  string
		want, within float64
	}{
		{"bay-1", "06:30", 12, 0.5},
		{"bay-1", "15:00", 19, 0.5},
		{"bay-2", "10:04", 18, 0.5},
		{"bay-2", "10:12", 13, 1},
		{"booth-1", "14:20", 60, 0.5},
		{"booth-1", "12:00", 21.5, 1},
	} {
		if got := at(c.zone, c.clock); math.Abs(got-c.want) > c.within {
			t.Errorf("%s at %s: %.2f °C, want about %g", c.zone, c.clock, got, c.want)
		}
	}
}

// No two readings of a zone are further apart than its drift and probe
// error allow: the day has no implausible jump.
func TestShopReadingsAreCredible(t *testing.T) {
	for _, id := range []string{"bay-1", "bay-2", "bay-3", "prep-1", "booth-1", "outdoors"} {
		z, err := ReadZone(id, open(t, shop+"zones/"+id+".yaml"))
		if err != nil {
			t.Fatal(err)
		}
		rs, err := ReadReadings(id, open(t, shop+"readings/"+id+".csv"))
		if err != nil {
			t.Fatal(err)
		}
		for i := 1; i < len(rs); i++ {
			most := 2*z.ProbeErrorC + z.DriftCPerMin*rs[i].At.Sub(rs[i-1].At).Minutes()
			if math.Abs(rs[i].TempC-rs[i-1].TempC) > most || rs[i].TempC < z.LimitLowC || rs[i].TempC > z.LimitHighC {
				t.Errorf("%s: %v after %v", id, rs[i], rs[i-1])
			}
		}
	}
}
