package cure

import (
	"fmt"
	"math"
	"time"

	"seamwright/services/fault"
)

// Observed is a stage that somebody saw reached on a bead, in air that
// changed meanwhile.
type Observed struct {
	Stage    string
	Seen     Seen // what the bead cured in
	From, At time.Time
}

// ConstantC is the constant temperature (°C) at which a law's nominal rate
// would have brought the bead as far in the same time: the T with k(T) = age /
// (At - From), so 1/T = 1/Tref - R ln k / Ea. False when the temperature is not
// known, or the cure stood still.
func (o Observed) ConstantC(l Law) (float64, bool) {
	age, ok := o.Seen.Age(l, Nominal, o.From, o.At)
	if !ok || !(age > 0) || !o.At.After(o.From) {
		return 0, false
	}
	_, ea, _ := l.EnergyJ()
	c := 1/(1/(l.refC+ZeroCelsius)-GasConstant*math.Log(age/o.At.Sub(o.From).Seconds())/ea) - ZeroCelsius
	return c, c >= minPointC && c <= maxPointC
}

// The end of the search for the temperatures that go with a fit.
const (
	observedTurns = 100
	observedJ     = 0.01 // J/mol
)

// FitObserved fits points together with stages that were seen reached. The
// constant temperature of an observation depends a little on the energy that
// is looked for, so both are found in turn, beginning with the label's law.
// Points are those of the observations, in their order, as the fit took them.
func FitObserved(label Law, points []Point, seen []Observed) (f Fit, of []Point, err error) {
	law := label
	for range observedTurns {
		of = of[:0]
		for i, o := range seen {
			c, ok := o.ConstantC(law)
			if !ok {
				return Fit{}, nil, fault.Bad(fmt.Sprintf("observed[%d]", i), o.Stage, "the temperature that it cured at must be known; leave it out")
			}
			of = append(of, Point{o.Stage, c, o.At.Sub(o.From).Minutes()})
		}
		if f, err = FitPoints(append(append([]Point{}, points...), of...), label.refC); err != nil {
			return Fit{}, of, err
		}
		_, was, _ := law.EnergyJ()
		if math.Abs(f.EnergyJ-was) <= observedJ {
			return f, of, nil
		}
		next, err := NewLaw(min(max(f.EnergyJ, minFitJ), maxFitJ), label.refC)
		if err == nil && label.hasMin {
			next, err = next.WithMinTemp(label.minC)
		}
		if err != nil {
			return Fit{}, of, err
		}
		if next == law { // held at an end of the range: it gets no nearer
			return f, of, nil
		}
		law = next
	}
	return f, of, nil
}
