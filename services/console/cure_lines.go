package console

import (
	"fmt"
	"math"
	"time"

	"seamwright/services/calc/cure"
	"seamwright/services/calc/quantity"
	"seamwright/services/intake"
)

// cureGround is what an answer about a clock rests on, for people.
type cureGround struct {
	product  intake.Product
	zone     intake.Zone
	readings []intake.Reading // by time

	verdict  cure.Verdict
	edges    cure.Set // of the zone's temperature at the moment that is asked about
	likelyC  float64
	anyRead  bool
	lastRead time.Time // zero: none
}

// stand takes what was seen and answered; readings after known do not count.
func (g *cureGround) stand(v cure.Verdict, seen cure.Seen, known time.Time) {
	g.verdict, g.edges = v, seen.Edges(v.At)
	g.likelyC, g.anyRead = seen.Nominal(v.At)
	for _, r := range g.readings {
		if !r.At.After(v.At) && !r.At.After(known) {
			g.lastRead = r.At
		}
	}
}

func (a cureAnswer) Lines() []string {
	g, v := a.ground, a.ground.verdict
	out := []string{
		fmt.Sprintf("%s (%s): reached %s", a.Stage, a.Kind, a.Reached),
		"meaning    " + cureMeaning(v.Kind, v.Reached),
		fmt.Sprintf("needed     %s at %s, %s", seconds(v.NeededS), degrees(g.product.Cure.ReferenceTempC), tolerance(v)),
		"zone then  " + g.temperature(),
		"cold       " + side(cure.Cold, v.AgeColdS, true, v.DueCold, v.At),
		"nominal    " + side(cure.Nominal, v.AgeNominalS, v.NominalKnown, v.DueNominal, v.At),
		"hot        " + side(cure.Hot, v.AgeHotS, true, v.DueHot, v.At),
	}
	for _, w := range a.Why {
		out = append(out, "why        "+w+": "+g.why(w))
	}
	for _, f := range a.Findings {
		line := "finding    " + f.Kind + ": " + f.Reason
		switch {
		case f.From != nil && f.To != nil && *f.From != *f.To:
			line += " (" + *f.From + " to " + *f.To + ")"
		case f.From != nil:
			line += " (" + *f.From + ")"
		}
		out = append(out, line)
	}
	return out
}

// seconds writes a span of time in hours, minutes and seconds.
func seconds(s float64) string { return quantity.Duration(s).ShowSeconds() }

// cureMeaning says what the three-valued answer means for what one does.
func cureMeaning(k cure.Kind, r cure.Reached) string {
	switch {
	case k == cure.Ready && r == cure.Yes:
		return "surely reached, even if the bead was as cold as it can have been"
	case k == cure.Ready && r == cure.No:
		return "not reached, not even if the bead was as warm as it can have been: wait"
	case k == cure.Ready:
		return "perhaps reached, and not surely: wait for the cold time, or look at the bead"
	case r == cure.Yes:
		return "passed by what was read: too late"
	case r == cure.No:
		return "surely not passed, even if the bead was as warm as it can have been: there is time until the hot time"
	}
	return "perhaps passed: treat it as passed"
}

// tolerance says how far the label's time may be off.
func tolerance(v cure.Verdict) string {
	if v.Tolerance == 0 {
		return "no tolerance"
	}
	return fmt.Sprintf("give or take %s %%: %s on the hot side, %s on the cold", shortly(v.Tolerance*100), seconds(v.NeededS*(1-v.Tolerance)), seconds(v.NeededS*(1+v.Tolerance)))
}

// temperature says how warm the zone was at the moment that is asked about.
func (g cureGround) temperature() string {
	set := degrees(g.edges.Lo) + " to " + degrees(g.edges.Hi)
	if !g.anyRead {
		return set + ", by its limits alone"
	}
	out := degrees(g.likelyC) + ", surely " + set
	if !g.lastRead.IsZero() {
		out += ", read at " + moment(g.lastRead)
	}
	return out
}

// side says how far a bead has come along one edge, and when it is there. Where
// it is rounded, the cold edge is told later and the hot one sooner.
func side(edge cure.Side, age float64, known bool, due, at time.Time) string {
	done, left := nearest, nearest
	switch edge {
	case cure.Cold:
		done, left = math.Floor, math.Ceil
	case cure.Hot:
		done, left = math.Ceil, math.Floor
	}
	out := "age unknown"
	if known {
		out = "age " + secondsTo(done, age)
	}
	switch d := due.Sub(at); {
	case due.IsZero():
		return out + ", due never at the temperature of now"
	case d > 0:
		return out + ", due " + moment(due) + ", in " + secondsTo(left, d.Seconds())
	case d < 0:
		return out + ", due " + moment(due) + ", " + secondsTo(nearest, -d.Seconds()) + " earlier"
	}
	return out + ", due " + moment(due) + ", just then"
}

func nearest(x float64) float64 { return math.Floor(x + 0.5) }

// secondsTo writes a span of time rounded by a rule, below an hour to the
// second, else to the minute. What integration leaves behind a whole second
// is none.
func secondsTo(rule func(float64) float64, s float64) string {
	const noise = 1e-6
	if whole := math.Round(s); math.Abs(s-whole) < noise {
		s = whole
	}
	unit := 1.0
	if s >= 3600 {
		unit = 60
	}
	return seconds(rule(s/unit) * unit)
}

// why says what a ground of an answer means, and what helps.
func (g cureGround) why(code string) string {
	c := g.product.Cure
	switch code {
	case cure.WhyNoReading:
		return fmt.Sprintf("no temperature was read in %s by then, so only its limits are known; take a reading", g.zone.ID)
	case cure.WhyStale:
		return fmt.Sprintf("the newest reading is %s old and in %s one is fresh for %s: take one, and look after the probe",
			seconds(g.verdict.At.Sub(g.lastRead).Seconds()), g.zone.ID, seconds(g.zone.StaleAfterMin*60))
	case cure.WhyTooCold:
		least := "the least temperature of its product"
		if c.MinTempC != nil {
			least = degrees(*c.MinTempC)
		}
		return "it may be colder there than " + least + ", and below that " + g.product.ID + " does not surely cure: warm the bay"
	case cure.WhyUnsettled:
		return "it has passed only if it became as warm there since the last reading as it can have; the next reading tells"
	case cure.WhyTolerance:
		return "the time lies between the hot and the cold edge, where the label's tolerance and the temperature leave it open"
	case cure.WhyBadClock:
		return "the times in the product's file cannot be reckoned with; correct the file"
	}
	return "a ground that this program has no words for"
}
