package cure

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"seamwright/services/fault"
)

// Range in J/mol in which a fitted energy is believed and to which the band
// is cut.
const minFitJ, maxFitJ = 10e3, 200e3

// Temperatures (°C) and times (min) that a point may have: wide, so that
// published kinetics of any reaction can be put through the same fit.
const minPointC, maxPointC, maxPointMin = -100, 1000, 1e12

// Point is a time that a label or a trial gives for a stage at a temperature.
type Point struct {
	Stage   string
	TempC   float64
	Minutes float64 // above 0
}

// Fit is the activation energy that points give: ordinary least squares of
// ln(minutes) on 1/T (kelvin), one slope for all stages and an intercept for
// each. The slope is Ea/R, since times go as the inverse of the rate.
type Fit struct {
	EnergyJ    float64 // J/mol
	StdErrJ    float64 // J/mol, 0 when DoF is 0
	LowJ       float64 // 95 % Student-t band in J/mol, not cut; means nothing when DoF is 0
	HighJ      float64
	DoF        int     // points less stages less one
	RefC       float64 // °C
	RefMinutes map[string]float64
}

// FitPoints fits the points; reference minutes are told at refC (°C). It
// needs one stage with two temperatures.
func FitPoints(points []Point, refC float64) (Fit, error) {
	if !(refC >= minLawC && refC <= maxLawC) {
		return Fit{}, fault.Bad("reference_temp_c", refC, "must be -60 to 200 °C; correct it")
	}
	for i, p := range points {
		at := fmt.Sprintf("points[%d].", i)
		switch {
		case !(p.TempC >= minPointC && p.TempC <= maxPointC):
			return Fit{}, fault.Bad(at+"temp_c", p.TempC, "must be -100 to 1000 °C; correct the point")
		case !(p.Minutes > 0 && p.Minutes <= maxPointMin):
			return Fit{}, fault.Bad(at+"minutes", p.Minutes, "must be above 0 to 1e12 minutes; correct or leave out the point")
		case p.Stage == "":
			return Fit{}, fault.Bad(at+"stage", `""`, "must name the stage; correct the point")
		}
	}
	xs, ys, groups := make([]float64, len(points)), make([]float64, len(points)), make([]string, len(points))
	for i, p := range points {
		xs[i], ys[i], groups[i] = 1/(p.TempC+ZeroCelsius), math.Log(p.Minutes), p.Stage
	}
	r, ok := commonSlope(xs, ys, groups)
	if !ok {
		return Fit{}, fault.Bad("points", len(points), "need one stage with two temperatures to give an activation energy; add a point or state the energy")
	}
	f := Fit{EnergyJ: r.slope * GasConstant, DoF: r.dof, RefC: refC, RefMinutes: make(map[string]float64)}
	if r.dof > 0 {
		f.StdErrJ = r.slopeErr * GasConstant
		t := student95(r.dof)
		f.LowJ, f.HighJ = f.EnergyJ-t*f.StdErrJ, f.EnergyJ+t*f.StdErrJ
	}
	for stage, g := range r.groups {
		m := math.Exp(g.meanY + r.slope*(1/(refC+ZeroCelsius)-g.meanX))
		if !(m > 0 && !math.IsInf(m, 1)) {
			return Fit{}, fault.Bad("reference_temp_c", refC, "is too far from the points to tell a time for "+stage+"; give one nearer to them")
		}
		f.RefMinutes[stage] = m
	}
	return f, nil
}

// student95 is the factor of a two-sided 95 % band: the 0.975 quantile of
// Student's t.
func student95(dof int) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(dof)}.Quantile(0.975)
}

// Law is the rate law of the fit: its 95 % band cut to 10 to 200 kJ/mol, or
// with no degree of freedom left the hull of the fit and 45 to 60 kJ/mol. A
// fit outside 10 to 200 kJ/mol is refused: it is no cure reaction.
func (f Fit) Law() (Law, error) {
	if !(f.EnergyJ >= minFitJ && f.EnergyJ <= maxFitJ) {
		return Law{}, fault.Bad("points", fmt.Sprintf("activation energy %.4g kJ/mol", f.EnergyJ/1000),
			"must come to 10 to 200 kJ/mol; check the points or state the energy")
	}
	if f.DoF == 0 {
		return NewBand(min(f.EnergyJ, DefaultLowJ), max(f.EnergyJ, DefaultHighJ), f.RefC)
	}
	return NewBand(max(f.LowJ, minFitJ), min(f.HighJ, maxFitJ), f.RefC)
}

// slopes is a regression of y on x with a common slope.
type slopes struct {
	slope, slopeErr float64
	rss             float64
	dof             int
	groups          map[string]group
}

// group is one stage's points; its line runs through their mean.
type group struct {
	n            float64
	meanX, meanY float64
}

// commonSlope fits y = a[group] + slope x. Working from each group's means
// keeps the digits that raw sums lose. False when no group has two x.
func commonSlope(xs, ys []float64, names []string) (slopes, bool) {
	r := slopes{groups: make(map[string]group)}
	for i, name := range names {
		g := r.groups[name]
		g.n++
		g.meanX += (xs[i] - g.meanX) / g.n
		g.meanY += (ys[i] - g.meanY) / g.n
		r.groups[name] = g
	}
	var sxx, sxy, scale float64
	for i, name := range names {
		g := r.groups[name]
		dx := xs[i] - g.meanX
		sxx += dx * dx
		sxy += dx * (ys[i] - g.meanY)
		scale += xs[i] * xs[i]
	}
	if !(sxx > 1e-20*scale) {
		return slopes{}, false
	}
	r.slope = sxy / sxx
	for i, name := range names {
		g := r.groups[name]
		e := ys[i] - g.meanY - r.slope*(xs[i]-g.meanX)
		r.rss += e * e
	}
	r.dof = len(xs) - len(r.groups) - 1
	if r.dof > 0 {
		r.slopeErr = math.Sqrt(r.rss / float64(r.dof) / sxx)
	}
	return r, true
}

// Stages lists the fitted stages in order of name.
func (f Fit) Stages() []string { return slices.Sorted(maps.Keys(f.RefMinutes)) }
