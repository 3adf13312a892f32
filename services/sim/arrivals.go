package sim

import (
	"cmp"
	"crypto/sha256"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

// Arrival is a car that comes in, as it was fixed beforehand: nothing that
// happens in the shop moves it.
type Arrival struct {
	At       time.Time
	RO       string
	Model    int // of the shop's models
	Colour   string
	Weight   float64
	Promised time.Time
	First    time.Duration // of the first coat in the booth
	Bay      int           // which of the bays takes it, from 0
	Mishap   string        // that befalls it; empty: none
}

// shares are how many of a hundred cars have a colour.
var shares = []struct {
	colour  string
	percent int
}{{"white", 30}, {"silver", 22}, {"grey metallic", 20}, {"blue", 16}, {"red", 12}}

// terms are what the office promises when a car comes in: so many working
// days later, at that hour. Each is as likely as the others.
var terms = []struct {
	days int
	hour time.Duration
}{{1, 16 * time.Hour}, {2, 12 * time.Hour}, {2, 16 * time.Hour}, {3, 16 * time.Hour}}

// Cars come in until lastArrival, and one of mishapOneIn has a mishap.
const (
	lastArrival = 15 * time.Hour
	mishapOneIn = 4
)

// notDealt are mishaps that would measure something else than the order of
// loads: a window that is let pass on purpose, a load that is sprayed without
// leave, a program in doubt.
var notDealt = []string{"window-missed", "no-permit", "store-doubt"}

// referenceSetup is what a colour change is reckoned at when a booth's load is
// fixed: the mean over two cars whose colours are drawn one like the other,
// which is what a booth pays that takes cars as they come.
func referenceSetup(b *booth) time.Duration {
	var sum float64
	for _, from := range shares {
		for _, to := range shares {
			sum += float64(from.percent*to.percent) / 1e4 * b.setup(from.colour, to.colour).Minutes()
		}
	}
	return ofMinutes(sum)
}

// fixArrivals draws the cars of a number of days from the seed alone: as many
// as fill so many per cent of the booth's open hours with their time in it
// and a setup each at the reference rate. When each comes in is as likely at
// any moment of the hours as at any other.
func (s *sim) fixArrivals(b *booth) []Arrival {
	r := stream(s.opt.Seed, "arrivals")
	var days []time.Time
	for d := range s.opt.Days {
		if at := s.hours.on(s.opt.Start, d, 0); s.hours.workday(at) {
			days = append(days, at)
		}
	}
	if len(days) == 0 {
		return nil
	}
	room := time.Duration(len(days)) * (b.closes - b.opens)
	left := time.Duration(float64(room) * s.opt.Load / 100)
	setup := referenceSetup(b)
	var out []Arrival
	for {
		a := s.drawArrival(r, days)
		use := setup + booked(a.First, boothCoats(models[a.Model]), true)
		if left < use/2 { // to the nearest whole car
			break
		}
		left -= use
		out = append(out, a)
	}
	slices.SortFunc(out, func(x, y Arrival) int { return x.At.Compare(y.At) })
	for i := range out {
		out[i].RO, out[i].Bay = fmt.Sprint(firstRO+i), i
	}
	return out
}

// firstRO is the repair-order number of the first car that comes in.
const firstRO = 3001

func (s *sim) drawArrival(r *rand.Rand, days []time.Time) Arrival {
	a := Arrival{Model: r.IntN(len(models)), Weight: float64(1 + r.IntN(3)), First: time.Duration(12+r.IntN(15)) * time.Minute}
	day := days[r.IntN(len(days))]
	a.At = s.hours.on(day, 0, shiftBegins+time.Duration(r.Int64N(int64(lastArrival-shiftBegins))).Truncate(time.Minute))
	n := r.IntN(100)
	for _, c := range shares {
		if n -= c.percent; n < 0 {
			a.Colour = c.colour
			break
		}
	}
	term := terms[r.IntN(len(terms))]
	at := day
	for range term.days {
		at = s.hours.next(s.hours.on(at, 1, shiftBegins), 0, shiftBegins, shiftEnds)
	}
	a.Promised = s.hours.on(at, 0, term.hour)
	if r.IntN(mishapOneIn) == 0 {
		a.Mishap = kinds[r.IntN(len(kinds))]
	}
	return a
}

// boothCoats is how many coats a model gets in the booth that bakes.
func boothCoats(m model) int {
	if m.coats[0] == floorv1.Coat_COAT_PRIMER_SURFACER {
		return len(m.coats) - 1
	}
	return len(m.coats)
}

// sumArrivals names a list of arrivals: the same cars have the same sum.
func sumArrivals(list []Arrival) string {
	var b strings.Builder
	for _, a := range list {
		fmt.Fprintf(&b, "%s %s %d %s %g %s %s %d %s\n", a.At.Format(time.RFC3339), a.RO, a.Model, a.Colour, a.Weight,
			a.Promised.Format(time.RFC3339), a.First, a.Bay, a.Mishap)
	}
	return fmt.Sprintf("%x", sha256.Sum256([]byte(b.String())))
}

// fixedArrivals brings in the cars that were fixed beforehand.
func (s *sim) fixedArrivals(p *proc) {
	for _, a := range s.fixed {
		p.until(a.At)
		j := s.arrivalJob(a)
		if a.Mishap != "" && !slices.Contains(notDealt, a.Mishap) && j.suits(a.Mishap) {
			j.mishaps[a.Mishap] = true
		}
		s.spawn("repair "+j.ro, s.now, func(p *proc) { s.repair(p, j) })
	}
}

func (s *sim) arrivalJob(a Arrival) *job {
	m := models[a.Model]
	j := s.newJob(&jobsv1.JobOpened{
		Ro: a.RO, Vehicle: m.vehicle, Vin: vinFor(a.RO), PaintColour: a.Colour, Coats: m.coats,
		Promised: timestamppb.New(a.Promised), Weight: a.Weight, AfterBoothMin: 90,
	})
	for _, k := range m.seams {
		j.seams = append(j.seams, &seam{id: a.RO + "/" + k.name, job: j, def: k.survey(a.RO, s)})
	}
	bays := s.bays()
	j.fixedBay, j.first = bays[a.Bay%len(bays)], a.First
	return j
}

// bays are the zones that have a technician.
func (s *sim) bays() []string {
	var out []string
	for _, z := range s.zones {
		if s.techs[z] != nil {
			out = append(out, z)
		}
	}
	slices.SortFunc(out, cmp.Compare[string])
	return out
}
