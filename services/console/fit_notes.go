package console

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"seamwright/services/calc/cure"
	"seamwright/services/calc/quantity"
	"seamwright/services/fault"
	"seamwright/services/intake"
)

// The activation energies in kJ/mol that a fit may come to: those of package
// cure, which refuses others.
const minFitKJ, maxFitKJ = 10, 200

// straight is a band's width, as a share of the energy, below which no
// timing by hand can have led to it.
const straight = 1e-4

// distrust says what makes the band of a fit less sure than it looks: rows
// that stand twice are no trials of their own, and real timings scatter.
func distrust(points []cure.Point, f cure.Fit) []string {
	if f.DoF <= 0 {
		return nil
	}
	first, copies := map[cure.Point]int{}, []string{}
	temps := map[float64]bool{}
	for i, p := range points {
		temps[p.TempC] = true
		if was, twice := first[p]; twice {
			copies = append(copies, fmt.Sprintf("row %d repeats row %d", i+1, was))
			continue
		}
		first[p] = i + 1
	}
	var out []string
	if len(copies) > 0 {
		out = append(out, repeated(copies, len(points), len(first), len(temps), len(first)-len(f.RefMinutes)-1))
	}
	if f.HighJ-f.LowJ <= straight*abs(f.EnergyJ) {
		out = append(out, fmt.Sprintf("the band of %s of freedom has no width, because every row lies on one line; "+
			"times taken on real beads scatter, so these were copied or reckoned from one another: do not believe the band", counted(f.DoF, "degree")))
	}
	return out
}

// repeated warns of rows that stand more than once; free is what the others
// leave as degrees of freedom.
func repeated(copies []string, rows, distinct, temps, free int) string {
	const most = 3
	where := strings.Join(copies[:min(most, len(copies))], ", ")
	if more := len(copies) - most; more > 0 {
		where += fmt.Sprintf(" and %d more", more)
	}
	left := "the band has only " + counted(free, "degree") + " of freedom in truth and must be wider than is told"
	if free <= 0 {
		left = "no degree of freedom is left in truth, and there is no band"
	}
	return fmt.Sprintf("of %d rows only %d are different, at %s (%s); a row written twice is not an independent trial: %s. "+
		"Leave the copies out, or time the stage again", rows, distinct, counted(temps, "temperature"), where, left)
}

func abs(x float64) float64 { return max(x, -x) }

// unknownStage says that a stage may be a slip.
func unknownStage(s string) string {
	names := []string{}
	for _, k := range intake.Stages() {
		names = append(names, string(k))
	}
	return s + " is no stage of a product file; those are " + strings.Join(names, ", ")
}

// noSlope is the fault of a file whose points give no energy at all.
func noSlope(path string, points []cure.Point) error {
	temps := map[string][]float64{}
	most := 0
	for _, p := range points {
		if !slices.Contains(temps[p.Stage], p.TempC) && len(temps[p.Stage]) < 2 {
			temps[p.Stage] = append(temps[p.Stage], p.TempC)
		}
		most = max(most, len(temps[p.Stage]))
	}
	what := counted(len(points), "row")
	if most > 0 {
		what += ", no stage at more than " + counted(most, "temperature")
	}
	return fault.Bad(path+" points", what, "an activation energy needs one stage timed at 2 temperatures at least; add a row of the same stage at another temperature")
}

// noCure is the fault of a fit that no cure can have.
func noCure(path string, energyKJ float64) error {
	return fault.Bad(path+" points", "activation energy "+quantity.Round(energyKJ, 1)+" kJ/mol", impossible(energyKJ))
}

// impossible says what is wrong with an energy, and what to look for.
func impossible(energyKJ float64) string {
	limit := fmt.Sprintf("that of a cure lies from %d to %d kJ/mol; ", minFitKJ, maxFitKJ)
	if energyKJ <= 0 {
		return limit + "here it takes longer when it is warmer, so see whether temperatures or times were exchanged, and correct them"
	}
	return limit + "see that each time stands beside its own temperature, in °C and minutes, and correct or leave out the one that is wrong"
}

// ofFit puts an error of the fit into words for a file.
func ofFit(path string, points []cure.Point, err error) error {
	e, ok := errors.AsType[*fault.Error](err)
	switch {
	case !ok || len(e.Fields) != 1:
		return err
	case e.Fields[0].Path == "points":
		return noSlope(path, points)
	case e.Fields[0].Path == "reference_temp_c":
		return flagged(err)
	}
	return fault.Bad(path+" "+e.Fields[0].Path, e.Fields[0].Value, e.Fields[0].Limit)
}
