package console

import (
	"context"
	"fmt"
	"maps"
	"slices"

	"seamwright/services/calc/cure"
	"seamwright/services/calc/quantity"
	"seamwright/services/fault"
	"seamwright/services/intake"
)

// Fit asks for the activation energy that times at several temperatures give:
// those of a file, or those that people saw in a running shop.
type Fit struct {
	Points     string // file
	ReferenceC string // of a file's fit; empty: 21
	Product    string // in place of a file
	At
}

type fitAnswer struct {
	Energy     float64            `json:"activation_energy_kj_mol"`
	Low        *float64           `json:"activation_energy_low_kj_mol"` // 95 % band; null with no degree of freedom
	High       *float64           `json:"activation_energy_high_kj_mol"`
	Freedom    int                `json:"degrees_of_freedom"`
	ReferenceC float64            `json:"reference_temp_c"`
	Reference  map[string]float64 `json:"reference_minutes"` // by stage
	Notes      []string           `json:"notes"`

	doubt bool // the notes begin with why the band is not to be believed
}

func (a fitAnswer) Lines() []string {
	out := []string{
		"activation energy  " + quantity.Round(a.Energy, 2) + " kJ/mol",
		"95 % band          unknown: no degree of freedom is left",
	}
	if a.Low != nil {
		out[1] = fmt.Sprintf("95 %% band          %s to %s kJ/mol, degrees of freedom: %d", quantity.Round(*a.Low, 2), quantity.Round(*a.High, 2), a.Freedom)
	}
	if a.doubt {
		out[1] += "; not to be believed, see the notes"
	}
	for _, s := range slices.Sorted(maps.Keys(a.Reference)) {
		out = append(out, fmt.Sprintf("%-18s %s min at %s", s, quantity.Round(a.Reference[s], 2), degrees(a.ReferenceC)))
	}
	for _, n := range a.Notes {
		out = append(out, "note               "+n)
	}
	return out
}

// Run answers.
func (q Fit) Run(ctx context.Context, o Out) error {
	switch {
	case q.Product != "" && q.Points != "":
		return fault.Bad("--product", show(q.Product), "a file of points or a product, not both; leave one out")
	case q.Product != "" && !floorID.MatchString(q.Product):
		return fault.Bad("--product", show(q.Product), "a product's identifier: "+idForm+"; see how it is written")
	case q.Product != "" && q.ReferenceC != "":
		return fault.Bad("--reference-temp-c", show(q.ReferenceC), "a product has its own; leave it out")
	case q.Product != "":
		return q.ofShop(ctx, o)
	}
	if err := q.noShop(); err != nil {
		return err
	}
	return q.ofFile(o)
}

// noShop refuses what names a shop where none is asked.
func (q Fit) noShop() error {
	for _, f := range [][2]string{{"--dir", q.Dir}, {"--address", q.Address}, {"--nats", q.NATS}, {"--shop", q.Shop}} {
		switch {
		case f[1] != "" && q.Points == "":
			return missing("--product", "the product whose times people saw in the shop that "+f[0]+" names")
		case f[1] != "":
			return fault.Bad(f[0], show(f[1]), "only beside --product, which asks a running shop; a file of points is reckoned without one, leave it out")
		}
	}
	return nil
}

// ofFile answers from a file. A fit that no cure can have (package cure, Fit.Law) is refused
// here as it is in a product file.
func (q Fit) ofFile(o Out) error {
	if q.ReferenceC == "" {
		q.ReferenceC = "21"
	}
	points, err := readFile("POINTS", q.Points, intake.ReadPoints)
	if err != nil {
		return err
	}
	ref, err := tempC("--reference-temp-c", q.ReferenceC, -60, 200)
	if err != nil {
		return err
	}
	in := make([]cure.Point, len(points))
	for i, p := range points {
		in[i] = cure.Point{Stage: string(p.Stage), TempC: p.TempC, Minutes: p.Minutes}
	}
	f, err := cure.FitPoints(in, ref)
	if err != nil {
		return ofFit(q.Points, in, err)
	}
	if _, err := f.Law(); err != nil {
		return noCure(q.Points, f.EnergyJ/kJ)
	}
	a := fitAnswer{Energy: f.EnergyJ / kJ, Freedom: f.DoF, ReferenceC: ref, Reference: f.RefMinutes, Notes: []string{}}
	if f.DoF > 0 {
		low, high := f.LowJ/kJ, f.HighJ/kJ
		a.Low, a.High = &low, &high
	} else {
		a.Notes = append(a.Notes, "nothing tells how good the fit is: "+counted(len(in), "row")+" for "+counted(len(f.RefMinutes), "stage")+
			" and one slope leave no degree of freedom; time the stage at one more temperature")
	}
	for _, n := range distrust(in, f) {
		a.Notes, a.doubt = append(a.Notes, n), true
	}
	for _, s := range f.Stages() {
		if !slices.Contains(intake.Stages(), intake.Stage(s)) {
			a.Notes = append(a.Notes, unknownStage(s))
		}
	}
	return o.put(a)
}
