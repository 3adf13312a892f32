package console

import (
	"time"

	"seamwright/services/calc/cure"
	"seamwright/services/intake"
)

const kJ = 1000 // J

// lawOf makes the rate law of a product's label and says what is doubtful
// about it.
func lawOf(c intake.Cure) (cure.Law, []cure.Finding, error) {
	s := cure.Stated{
		RefC: c.ReferenceTempC, MinC: c.MinTempC, DoublesPerK: c.RateDoublesPerK,
		LabelMinutes: make(map[string]float64, len(c.StageMin)),
	}
	if c.ActivationEnergyKJMol != nil {
		j := *c.ActivationEnergyKJMol * kJ
		s.EnergyJ = &j
	}
	if b := c.ActivationEnergyBandKJMol; b != nil {
		s.BandJ = &[2]float64{b[0] * kJ, b[1] * kJ}
	}
	for _, p := range c.Points {
		s.Points = append(s.Points, cure.Point{Stage: string(p.Stage), TempC: p.TempC, Minutes: p.Minutes})
	}
	for stage, m := range c.StageMin {
		s.LabelMinutes[string(stage)] = m
	}
	return s.Law()
}

// zoneOf is a zone file as the reckoning takes it.
func zoneOf(z intake.Zone) cure.Zone {
	return cure.Zone{
		Limits: cure.Set{Lo: z.LimitLowC, Hi: z.LimitHighC}, ProbeErrorC: z.ProbeErrorC,
		DriftPerMin: z.DriftCPerMin, StaleAfter: minutes(z.StaleAfterMin), Settling: minutes(z.SettlingMin),
	}
}

func minutes(m float64) time.Duration { return time.Duration(m * float64(time.Minute)) }
