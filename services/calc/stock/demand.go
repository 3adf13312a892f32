package stock

import (
	"fmt"
	"math"
	"time"

	"seamwright/services/fault"
)

// Use is an amount used at a moment, in the unit that is counted in: ml that
// left cartridges, or cartridges opened.
type Use struct {
	At     time.Time
	Amount float64
}

// Demand is what is used per period.
type Demand struct {
	Mean    float64
	SD      float64       // standard deviation of a period's use
	Period  time.Duration // 0 when the caller keeps count of it
	Periods int           // that it was taken from
}

// maxPeriods keeps a slipped date from filling the memory.
const maxPeriods = 100_000

// Demanded is the demand per period in the time from, up to and without to:
// the mean and the unbiased standard deviation (n - 1) over whole periods that
// end at to; what is left over at the beginning, shorter than a period, is not
// counted. A period without any use counts as one. Errors: fewer than two
// periods, a use below 0 or not finite, no use at all in that time.
func Demanded(uses []Use, from, to time.Time, period time.Duration) (Demand, error) {
	switch {
	case period <= 0:
		return Demand{}, fault.Bad("period", period, "above 0; a week is usual")
	case from.IsZero() || to.IsZero() || !from.Before(to):
		return Demand{}, fault.Bad("to", to.Format(time.RFC3339), "after "+from.Format(time.RFC3339)+"; correct the dates")
	case len(uses) == 0:
		return Demand{}, fault.Bad("uses", "none", "at least one use; begin with a guess of the demand until there is a history")
	}
	n := int(min(to.Sub(from)/period, maxPeriods+1))
	if n < 2 || n > maxPeriods {
		return Demand{}, fault.Bad("period", period, fmt.Sprintf(
			"2 to %d whole periods in the %.4g days asked about; take another period or a longer history", maxPeriods, to.Sub(from).Hours()/24))
	}
	sums := make([]float64, n)
	total := 0.0
	for i, u := range uses {
		if !(u.Amount >= 0 && u.Amount <= maxAmount) {
			return Demand{}, fault.Bad(fmt.Sprintf("uses[%d].amount", i), u.Amount, fmt.Sprintf("from 0 to %g; correct the fact", maxAmount))
		}
		back := to.Sub(u.At)
		if back <= 0 || back > time.Duration(n)*period {
			continue
		}
		sums[n-1-int((back-1)/period)] += u.Amount
		total += u.Amount
	}
	if total == 0 {
		return Demand{}, fault.Bad("uses", "none", "some use between "+from.Format(time.DateOnly)+" and "+to.Format(time.DateOnly)+"; take a longer history")
	}
	d := Demand{Mean: total / float64(n), Period: period, Periods: n}
	squares := 0.0
	for _, s := range sums {
		squares += (s - d.Mean) * (s - d.Mean)
	}
	d.SD = math.Sqrt(squares / float64(n-1))
	return d, nil
}

// In is the same demand per another unit: ml made cartridges by the ml that
// one holds.
func (d Demand) In(size float64) (Demand, error) {
	if err := above("size", size, "give what one unit holds"); err != nil {
		return Demand{}, err
	}
	d.Mean, d.SD = d.Mean/size, d.SD/size
	return d, nil
}

// maxAmount is the most of anything that is reckoned with.
const maxAmount = 1e12

func (d Demand) validate() error {
	if err := notBelow("demand.mean", d.Mean); err != nil {
		return err
	}
	return notBelow("demand.sd", d.SD)
}

func above(field string, x float64, what string) error {
	if x > 0 && x <= maxAmount {
		return nil
	}
	return fault.Bad(field, x, fmt.Sprintf("above 0 to %g; %s", maxAmount, what))
}

func notBelow(field string, x float64) error {
	if x >= 0 && x <= maxAmount {
		return nil
	}
	return fault.Bad(field, x, fmt.Sprintf("from 0 to %g; correct it", maxAmount))
}

func first(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}
