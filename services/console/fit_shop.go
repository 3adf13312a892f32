package console

import (
	"context"
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"google.golang.org/grpc"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/quantity"
)

// shopFitAnswer is a product's label beside what people saw of it.
type shopFitAnswer struct {
	Product    string         `json:"product"`
	ReferenceC float64        `json:"reference_temp_c"`
	LabelLow   float64        `json:"label_energy_low_kj_mol"`
	LabelHigh  float64        `json:"label_energy_high_kj_mol"`
	Basis      string         `json:"label_basis"`
	Energy     *float64       `json:"activation_energy_kj_mol"` // null: there is no fit
	Low        *float64       `json:"activation_energy_low_kj_mol"`
	High       *float64       `json:"activation_energy_high_kj_mol"`
	Freedom    int            `json:"degrees_of_freedom"`
	Stages     []shopFitStage `json:"stages"`
	Points     []shopFitPoint `json:"points"`
	Used       int            `json:"observations_used"`
	NoFit      string         `json:"no_fit"`
}

type shopFitStage struct {
	Stage string   `json:"stage"`
	Label *float64 `json:"label_minutes"`
	Shop  *float64 `json:"shop_minutes"`
}

type shopFitPoint struct {
	Seam    string   `json:"seam"`
	Stage   string   `json:"stage"`
	TempC   *float64 `json:"temp_c"` // the constant one that would have brought it as far
	Minutes float64  `json:"minutes"`
	Early   bool     `json:"before_label"`
	LeftOut string   `json:"left_out"`
}

func (a shopFitAnswer) Lines() []string {
	band := func(low, high float64) string {
		if low == high {
			return quantity.Round(low, 2) + " kJ/mol"
		}
		return quantity.Round(low, 2) + " to " + quantity.Round(high, 2) + " kJ/mol"
	}
	out := []string{fmt.Sprintf("%-18s %s; %s", "label", band(a.LabelLow, a.LabelHigh), a.Basis)}
	switch {
	case a.Energy == nil:
		out = append(out, "seen here          no fit: "+a.NoFit)
	case a.Low == nil:
		out = append(out, "seen here          "+quantity.Round(*a.Energy, 2)+" kJ/mol; there is no band, one more observation would tell how good that is")
	default:
		out = append(out, fmt.Sprintf("seen here          %s kJ/mol, 95 %% band %s, degrees of freedom: %d", quantity.Round(*a.Energy, 2), band(*a.Low, *a.High), a.Freedom))
	}
	minutes := func(m *float64) string {
		if m == nil {
			return "-"
		}
		return quantity.Round(*m, 1)
	}
	out = append(out, fmt.Sprintf("%-18s %10s %10s   min at %s", "stage", "label", "seen here", degrees(a.ReferenceC)))
	for _, s := range a.Stages {
		out = append(out, fmt.Sprintf("%-18s %10s %10s", s.Stage, minutes(s.Label), minutes(s.Shop)))
	}
	out = append(out, fmt.Sprintf("%-18s %d of %s", "used", a.Used, counted(len(a.Points), "observation")))
	for _, p := range a.Points {
		at := "an unknown temperature"
		if p.TempC != nil {
			at = degrees(*p.TempC)
		}
		line := fmt.Sprintf("%-18s %s, %s after %s min at %s", "seen", p.Seam, p.Stage, quantity.Round(p.Minutes, 1), at)
		if p.LeftOut != "" {
			line = fmt.Sprintf("%-18s %s, %s after %s min at %s: %s", "left out", p.Seam, p.Stage, quantity.Round(p.Minutes, 1), at, p.LeftOut)
		}
		if p.Early {
			line += "; before the label allows it"
		}
		out = append(out, line)
	}
	return append(out, "The clocks go by the label. The product's own sheet comes first.")
}

// energyOf finds the energy that a shop's fit was refused for.
var energyOf = regexp.MustCompile(`activation energy (\S+) kJ/mol`)

// noFit says in a sentence why there is no fit, from what was seen.
func (a shopFitAnswer) noFit(told string) string {
	if m := energyOf.FindStringSubmatch(told); m != nil {
		if kj, err := strconv.ParseFloat(m[1], 64); err == nil {
			return "what was seen comes to an activation energy of " + quantity.Round(kj, 1) + " kJ/mol, but " + impossible(kj)
		}
	}
	if !strings.Contains(told, "two temperatures") {
		return told
	}
	const need = "a fit needs one stage seen at two temperatures at least: tell when the stage is reached on a bead in a warmer or a colder bay (seamwright tell stage-observed)"
	switch {
	case len(a.Points) == 0:
		return "nobody has told yet that a bead of " + a.Product + " reached a stage; " + need
	case a.Used == 0:
		return fmt.Sprintf("of %s none can be used, each for the reason beside it; %s", counted(len(a.Points), "observation"), need)
	}
	return counted(a.Used, "observation") + " of " + a.Product + " that can be used, and no stage at two temperatures; " + need
}

// ofShop asks a running shop.
func (q Fit) ofShop(ctx context.Context, o Out) error {
	var r *curesv1.ShowFitResponse
	if err := q.with(ctx, func(c grpc.ClientConnInterface) (err error) {
		r, err = curesv1.NewCuresServiceClient(c).ShowFit(ctx, &curesv1.ShowFitRequest{ProductId: q.Product})
		return err
	}); err != nil {
		return err
	}
	a := shopFitAnswer{
		Product: r.GetProductId(), ReferenceC: r.GetReferenceTempC(), LabelLow: r.GetLabelKjMol().GetLow(), LabelHigh: r.GetLabelKjMol().GetHigh(),
		Basis: r.GetLabelBasis(), Energy: r.FittedKjMol, Freedom: int(r.GetDegreesOfFreedom()),
		Stages: []shopFitStage{}, Points: []shopFitPoint{},
	}
	if b := r.GetFittedBandKjMol(); b != nil {
		a.Low, a.High = &b.Low, &b.High
	}
	for _, s := range r.GetStages() {
		a.Stages = append(a.Stages, shopFitStage{clockWord(s.GetClock()), s.LabelMin, s.FittedMin})
	}
	for _, v := range r.GetObservations() {
		a.Points = append(a.Points, shopFitPoint{v.GetSeamId(), clockWord(v.GetClock()), v.ConstantTempC, v.GetMinutes(), v.GetEarly(), v.GetLeftOut()})
		if v.GetLeftOut() == "" {
			a.Used++
		}
	}
	if r.GetNoFit() != "" {
		a.NoFit = a.noFit(r.GetNoFit())
	}
	return o.put(a)
}

func clockWord(k floorv1.Clock) string { return enumWord(k.Descriptor(), k.Number()) }
