package cure

import (
	"fmt"
	"slices"

	"seamwright/services/fault"
)

// Stated is what a product says about temperature. At most one of EnergyJ,
// BandJ and DoublesPerK may be set.
type Stated struct {
	RefC        float64
	MinC        *float64 // °C, nil: none
	EnergyJ     *float64 // J/mol
	BandJ       *[2]float64
	DoublesPerK *float64
	Points      []Point
	// LabelMinutes are the label's own times at RefC; they join the points of
	// the stages that have any.
	LabelMinutes map[string]float64
}

// Law makes the rate law of what is stated and says what is doubtful about
// it: a stated energy wins over points, points over the default band.
func (s Stated) Law() (Law, []Finding, error) {
	law, fs, err := s.energy()
	if err == nil && s.MinC != nil {
		law, err = law.WithMinTemp(*s.MinC)
	}
	if err != nil {
		return Law{}, nil, err
	}
	return law, fs, nil
}

func (s Stated) energy() (Law, []Finding, error) {
	n := 0
	for _, set := range []bool{s.EnergyJ != nil, s.BandJ != nil, s.DoublesPerK != nil} {
		if set {
			n++
		}
	}
	if n > 1 {
		return Law{}, nil, fault.Bad("cure", fmt.Sprintf("%d kinds of activation energy", n),
			"give one of activation_energy_kj_mol, activation_energy_band_kj_mol and rate_doubles_per_k; leave the others out")
	}
	if n == 0 && len(s.Points) > 0 {
		f, err := s.Fit()
		if err != nil {
			return Law{}, nil, err
		}
		law, err := f.Law()
		return law, nil, err
	}
	if n == 0 {
		law, err := DefaultLaw(s.RefC)
		return law, []Finding{{
			Kind:   DefaultEnergy,
			Reason: "no activation energy is stated: 45 to 60 kJ/mol is assumed, each side using its safe end; two labelled temperatures would narrow it",
		}}, err
	}
	law, err := s.stated()
	if err != nil {
		return Law{}, nil, err
	}
	return law, s.compare(law), nil
}

func (s Stated) stated() (Law, error) {
	switch {
	case s.EnergyJ != nil:
		return NewLaw(*s.EnergyJ, s.RefC)
	case s.BandJ != nil:
		return NewBand(s.BandJ[0], s.BandJ[1], s.RefC)
	default:
		return NewDoubling(*s.DoublesPerK, s.RefC)
	}
}

// Fit is the fit of the points together with the label's own times for their
// stages. One that is given twice counts once: a copied row is no second
// measurement, and would narrow the band for nothing.
func (s Stated) Fit() (Fit, error) {
	var points []Point
	for _, p := range s.Points {
		if !slices.Contains(points, p) {
			points = append(points, p)
		}
	}
	done := make(map[string]bool)
	for _, p := range s.Points {
		own := Point{p.Stage, s.RefC, s.LabelMinutes[p.Stage]}
		if own.Minutes > 0 && !done[p.Stage] && !slices.Contains(points, own) {
			points = append(points, own)
		}
		done[p.Stage] = true
	}
	return FitPoints(points, s.RefC)
}

// compare sets a stated law against the points, if there are any.
func (s Stated) compare(law Law) []Finding {
	if len(s.Points) == 0 {
		return nil
	}
	f, err := s.Fit()
	var band Law
	if err == nil {
		band, err = f.Law()
	}
	if err != nil {
		return []Finding{{Kind: PointsUnusable, Reason: "the stated activation energy is used; of the points: " + err.Error()}}
	}
	if law.lowJ >= band.lowJ && law.highJ <= band.highJ {
		return nil
	}
	return []Finding{{
		Kind: EnergyOutsideBand,
		Reason: fmt.Sprintf("the stated activation energy of %s kJ/mol is used; the points give %.4g to %.4g kJ/mol: check the product",
			kilojoules(law), band.lowJ/1000, band.highJ/1000),
	}}
}

func kilojoules(l Law) string {
	if l.lowJ == l.highJ {
		return fmt.Sprintf("%.4g", l.lowJ/1000)
	}
	return fmt.Sprintf("%.4g to %.4g", l.lowJ/1000, l.highJ/1000)
}
