package sim

import (
	"math"
	"math/rand/v2"
	"time"
)

// day is the course of a zone's true temperature: coldest at half past six,
// warmest at three, both in °C.
type day struct{ cold, warm, spread float64 }

// days are the zones of the invented shop. The first bay is slow to warm in
// the morning, the third lies beside the boiler.
var days = map[string]day{
	"bay-1":    {11.2, 19.0, 1.0},
	"bay-2":    {17.0, 20.5, 0.6},
	"bay-3":    {19.0, 22.0, 0.5},
	"prep-1":   {18.0, 21.5, 0.5},
	"booth-1":  {16.0, 22.0, 0.5},
	"outdoors": {2.5, 9.5, 2.0},
}

const (
	coldestHour = 6.5
	warmestHour = 15.0
	bakeC       = 60 // the booth's air while it bakes
	boothRate   = 2.5
	sprayC      = 22.0
)

// dip is an open door: the air loses some kelvin in six minutes and wins them
// back over the next three quarters of an hour.
type dip struct {
	at time.Time
	by float64
}

// weather knows the true temperatures. Nobody in the shop sees them; probes
// read them with an error.
type weather struct {
	seed  uint64
	start time.Time
	dips  map[string][]dip
	booth map[string]float64 // air of a booth that is worked in
	goal  map[string]float64 // what its heating is set to; absent: off
	noise *rand.Rand
	fixed bool // it hangs on zone and moment alone

	asked   map[string]time.Time // when a heated booth's truth was last asked for
	most    map[string]float64   // K per minute that a booth's heating brings
	seasons bool
}

func newWeather(o Options) *weather {
	seed := o.Seed
	return &weather{
		asked: map[string]time.Time{}, most: map[string]float64{}, seasons: o.Habits.Seasons,
		fixed: o.Load > 0, seed: seed, start: o.Start, dips: map[string][]dip{}, booth: map[string]float64{}, goal: map[string]float64{},
		noise: stream(seed, "noise"),
	}
}

// stream is a source of chance for one purpose: what is drawn for another
// does not move it.
func stream(seed uint64, purpose string) *rand.Rand {
	h := uint64(14695981039346656037) // FNV-1a
	for _, b := range []byte(purpose) {
		h = (h ^ uint64(b)) * 1099511628211
	}
	return rand.New(rand.NewPCG(seed, h))
}

// extremes are a day's coldest and warmest; each day is a little different.
func (w *weather) extremes(zone string, n int) (cold, warm float64) {
	d, ok := days[zone]
	if !ok {
		d = day{18, 21, 0.5}
	}
	r := rand.New(rand.NewPCG(w.seed^uint64(n+1)*0x9e3779b97f4a7c15, uint64(len(zone))*31+uint64(zone[len(zone)-1])))
	by := w.season(zone, n)
	return d.cold + by + d.spread*(2*r.Float64()-1), d.warm + by + d.spread*(2*r.Float64()-1)
}

// season is how much warmer than in spring it is: 9 K at most in the yard, in
// late July and, by as much colder, in late January; a heated bay feels a
// sixth of it.
func (w *weather) season(zone string, n int) float64 {
	if !w.seasons {
		return 0
	}
	by := 9 * math.Cos(2*math.Pi*float64(w.start.AddDate(0, 0, n).YearDay()-205)/365)
	if zone != "outdoors" {
		by /= 6
	}
	return by
}

// daily is the smooth course: half a cosine up, half a cosine down.
func (w *weather) daily(zone string, at time.Time) float64 {
	h := at.Sub(w.start).Hours()
	n := int(math.Floor(h / 24))
	cold, warm := w.extremes(zone, n)
	switch h -= 24 * float64(n); {
	case h < coldestHour:
		_, before := w.extremes(zone, n-1)
		return before + (cold-before)*wave((h+24-warmestHour)/(24-warmestHour+coldestHour))
	case h < warmestHour:
		return cold + (warm-cold)*wave((h-coldestHour)/(warmestHour-coldestHour))
	default:
		next, _ := w.extremes(zone, n+1)
		return warm + (next-warm)*wave((h-warmestHour)/(24-warmestHour+coldestHour))
	}
}

func wave(x float64) float64 { return (1 - math.Cos(math.Pi*x)) / 2 }

// truth is a zone's true temperature at a moment. A booth's air follows its
// heating from one question to the next.
func (w *weather) truth(zone string, at time.Time) float64 {
	c := w.daily(zone, at)
	for _, d := range w.dips[zone] {
		m := at.Sub(d.at).Minutes()
		switch {
		case m < 0:
		case m < 6:
			c -= d.by * m / 6
		default:
			c -= d.by * math.Exp(-(m-6)/15)
		}
	}
	goal, heated := w.goal[zone]
	was, known := w.booth[zone]
	if !heated && !known {
		return c
	}
	if !heated {
		goal = c
	}
	if !known {
		was = c
	}
	most := boothRate
	if r, limited := w.most[zone]; limited {
		most = r
	}
	if last, before := w.asked[zone]; before {
		most *= at.Sub(last).Minutes()
	}
	w.asked[zone] = at
	was += math.Max(-most, math.Min(most, goal-was))
	if !heated && math.Abs(was-c) < 0.01 {
		delete(w.booth, zone)
		delete(w.asked, zone)
		return c
	}
	w.booth[zone] = was
	return was
}

// probed is what a probe makes of the truth: right within its error.
func (w *weather) probed(zone string, at time.Time, c float64) float64 {
	return math.Round((c+0.24*(w.noiseOf(zone, at).Float64()-0.5))*100) / 100
}

// Hours of work, Monday to Friday.
var (
	shiftBegins = 7*time.Hour + 30*time.Minute
	shiftEnds   = 16 * time.Hour
	boothOpens  = 7*time.Hour + 30*time.Minute
	boothCloses = 17 * time.Hour
	prepOpens   = 7 * time.Hour
	prepCloses  = 17*time.Hour + 30*time.Minute
)
