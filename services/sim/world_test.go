package sim

import (
	"math"
	"testing"
	"time"
)

// The true air never moves faster than its zone is said to, so that no
// reading of it is implausible: the limits are those of the shop's files.
func TestTheWeatherIsCredible(t *testing.T) {
	drift := map[string]float64{"bay-1": 0.2, "bay-2": 1.5, "bay-3": 0.3, "prep-1": 0.5, "booth-1": 5, "outdoors": 0.5}
	w := newWeather(Options{Seed: 3, Start: began})
	w.dips["bay-2"] = []dip{{after(600), 5}}
	for zone, limit := range drift {
		last := w.truth(zone, began)
		for m := 1.0; m < 4*1440; m++ {
			if zone == "booth-1" && m == 700 {
				w.goal[zone] = bakeC
			}
			if m == 760 {
				delete(w.goal, zone)
			}
			c := w.truth(zone, after(m))
			if math.Abs(c-last) > limit*0.9 {
				t.Fatalf("%s moves %.2f K in the minute to %s, %.2f K are credible", zone, c-last, after(m).Format(time.DateTime), limit)
			}
			last = c
		}
	}
}

func TestHours(t *testing.T) {
	utc := hours{time.UTC}
	friday := time.Date(2026, 3, 6, 15, 40, 0, 0, time.UTC)
	if got := utc.next(friday, 30*time.Minute, shiftBegins, shiftEnds); !got.Equal(time.Date(2026, 3, 9, 7, 30, 0, 0, time.UTC)) {
		t.Errorf("half an hour of Friday afternoon's last twenty minutes is %s", got)
	}
	if got := utc.next(friday, 20*time.Minute, shiftBegins, shiftEnds); !got.Equal(friday) {
		t.Errorf("the last twenty minutes are %s", got)
	}
}

// Every kind of mishap is dealt before one comes again, to jobs that it suits.
func TestTheDeckDealsEveryKind(t *testing.T) {
	s := &sim{opt: Options{Seed: 4}, now: began, hours: hours{time.UTC}, chance: stream(4, "work"), products: map[string]*product{}, jobs: map[string]*job{}}
	d := newDeck(4)
	seen := map[string]bool{}
	for i := range 60 {
		j := s.sketchJob(string(rune('A'+i%26))+"1", models[i%len(models)])
		d.deal(j, 2)
		if j.late {
			seen["window-missed"] = true
		}
		for k := range j.mishaps {
			seen[k] = true
		}
	}
	for _, k := range kinds {
		if !seen[k] {
			t.Errorf("%s was never dealt", k)
		}
	}
}
