package feed

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/calc/quantity"
	"seamwright/services/calc/spec"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// Run plans a sealing run for the bay that a terminal stands in.
func (s *Source) Run(ctx context.Context, terminal string) (screens.Run, error) {
	a, err := s.allGates(ctx)
	if err != nil {
		return screens.Run{}, err
	}
	var out screens.Run
	zone := floor.ZoneID("")
	err = s.show(ctx, a, func(v *view) error {
		out = screens.Run{Picture: v.pic, Zone: v.bayName(terminal), At: v.now}
		zone = v.terminalZone(terminal)
		return nil
	})
	switch {
	case err != nil:
		return out, err
	case zone == "":
		out.Wrong = "This tablet stands in no bay: say which one it is in, and ask again."
		return out, nil
	}
	r, err := s.stock.PlanRun(ctx, &materialsv1.PlanRunRequest{ZoneId: string(zone)})
	if err != nil {
		out.Wrong = sentence(faultWords(err))
		return out, nil
	}
	fits := s.fits(ctx, r)
	err = s.look(ctx, r.GetSequence(), func(v *view) error {
		v.tellRun(&out, r)
		for _, f := range fits {
			out.Products = append(out.Products, v.fitWords(f))
		}
		return nil
	})
	return out, err
}

// fits are the fits of the products that a run lays. One that is not answered
// is left out: the run stands without it.
func (s *Source) fits(ctx context.Context, r *materialsv1.PlanRunResponse) (out []*curesv1.ShowFitResponse) {
	var seen []string
	for _, st := range r.GetSteps() {
		if slices.Contains(seen, st.GetProductId()) {
			continue
		}
		seen = append(seen, st.GetProductId())
		if f, err := s.cures.ShowFit(ctx, &curesv1.ShowFitRequest{ProductId: st.GetProductId()}); err == nil {
			out = append(out, f)
		}
	}
	return out
}

// tellRun puts a run into the shop's words.
func (v *view) tellRun(out *screens.Run, r *materialsv1.PlanRunResponse) {
	out.At, out.HotC, out.Gap = r.GetNow().AsTime().In(v.now.Location()), &r.HotC, r.GetGap()
	if len(r.GetSteps()) > 0 {
		out.Sum, out.Naive = runTotals(r.GetTotals()), runTotals(r.GetNaive())
	}
	for i, st := range r.GetSteps() {
		out.Steps = append(out.Steps, v.runStep(i+1, st))
	}
	if r.GetReadAt() != nil {
		out.ReadC, out.ReadAt, out.Stale = &r.ReadC, r.GetReadAt().AsTime(), !r.GetReadFresh()
	}
	out.Left = v.runLeft(r.GetUnplanned())
	for _, x := range r.GetStored() {
		out.After = append(out.After, screens.RunLine{What: packWords(x.GetCartridgeId(), x.GetLotId(), x.GetNth()), Text: number(x.GetLeftMl()) + " ml left. " + x.GetWhy()})
	}
	for _, x := range r.GetAsides() {
		out.Aside = append(out.Aside, screens.RunLine{What: packWords(x.GetCartridgeId(), x.GetLotId(), 0), Text: x.GetWhy()})
	}
}

// runLeft are the seams that are left out, those with the same reason together.
func (v *view) runLeft(us []*materialsv1.RunUnplanned) (out []screens.RunLeft) {
	for _, u := range us {
		ro, place := v.seamWords(u.GetSeamId())
		seam, why := screens.RunSeam{Place: place, RO: ro}, v.inUTC(u.GetWhy())
		if i := slices.IndexFunc(out, func(l screens.RunLeft) bool { return l.Why == why }); i >= 0 {
			out[i].Seams = append(out[i].Seams, seam)
			continue
		}
		out = append(out, screens.RunLeft{Seams: []screens.RunSeam{seam}, Why: why})
	}
	return out
}

func (v *view) runStep(n int, st *materialsv1.RunStep) screens.RunStep {
	ro, place := v.seamWords(st.GetSeamId())
	pack := packWords(st.GetCartridgeId(), st.GetLotId(), st.GetNth())
	out := screens.RunStep{
		N: n, Place: place, RO: ro, ML: &st.LaidMl, LeftML: &st.LeftMl, Cartridge: pack,
		After: time.Duration(st.GetBeginsS() * float64(time.Second)), Why: st.GetWhy(),
	}
	if st.GetParts() > 1 {
		out.Part = fmt.Sprintf("part %d of %d", st.GetPart(), st.GetParts())
	}
	if st.GetWhy() == "" {
		if st.GetRecut() {
			out.Change = cutTo(st.GetTip())
		}
		return out
	}
	did := []string{"take " + pack}
	if st.GetOpens() {
		did[0] = "open " + pack
	}
	switch {
	case st.GetFits():
		did = append(did, fmt.Sprintf("fit nozzle %d, %s, and purge it", st.GetNozzle(), orWord(st.GetTip(), "any tip")))
	case st.GetNozzleId() != "":
		did = append(did, "nozzle "+st.GetNozzleId()+" is on")
	}
	if st.GetRecut() {
		did = append(did, cutTo(st.GetTip()))
	}
	out.Change = strings.Join(did, ", ")
	return out
}

// cutTo says to cut the tip that is on for a wider bead.
func cutTo(tip string) string {
	n, _ := spec.ReadNozzle(tip)
	return fmt.Sprintf("cut the tip to %g mm", n.CutMM)
}

// seamWords are a seam's job and its name as a person says it.
func (v *view) seamWords(id string) (ro, place string) {
	s := v.f.Seam(floor.SeamID(id))
	if s == nil {
		return string(floor.SeamID(id).RO()), id
	}
	return string(s.Job), upper(s.Name())
}

func packWords(cartridge, lot string, nth int32) string {
	switch {
	case cartridge != "":
		return "cartridge " + cartridge
	case nth > 1:
		return fmt.Sprintf("new cartridge %d of lot %s", nth, lot)
	case nth == 1:
		return "a new cartridge of lot " + lot
	}
	return "lot " + lot
}

func runTotals(t *materialsv1.RunTotals) string {
	opened := "no cartridge opened"
	if n := t.GetOpened(); n > 0 {
		opened = counted(int(n), "cartridge") + " opened"
	}
	tooled, thrown := max(0, t.GetTakenMl()-t.GetOnSeamsMl()-t.GetWasteMl()), ""
	if t.GetThrownMl() > 0 {
		thrown = fmt.Sprintf("; %s ml thrown away", quantity.Round(t.GetThrownMl(), 1))
	}
	return fmt.Sprintf("%s, %s, %s, %s ml taken: %s on the seams, %s tooled off them, %s lost%s; %s min", counted(int(t.GetSeams()), "seam"), counted(int(t.GetNozzles()), "nozzle"), opened,
		quantity.Round(t.GetTakenMl(), 1), quantity.Round(t.GetOnSeamsMl(), 1), quantity.Round(tooled, 1), quantity.Round(t.GetWasteMl(), 1), thrown, quantity.Round(t.GetMinutes(), 0))
}

func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// fitWords put a product's label and the shop's own fit side by side.
func (v *view) fitWords(f *curesv1.ShowFitResponse) screens.RunProduct {
	out := screens.RunProduct{Name: f.GetProductId(), Label: energy(f.GetLabelKjMol()) + ", " + basisWords(f.GetLabelBasis()), Guessed: guessed(f.GetLabelBasis())}
	if p := v.f.Product(floor.ProductID(f.GetProductId()), v.now); p != nil {
		out.Name = upper(orWord(productWords(p), out.Name))
	}
	switch {
	case f.FittedKjMol != nil && f.GetFittedBandKjMol() != nil:
		b := f.GetFittedBandKjMol()
		out.Fit = fmt.Sprintf("%s kJ/mol (95 %%: %s to %s)", quantity.Round(f.GetFittedKjMol(), 1), quantity.Round(b.GetLow(), 1), quantity.Round(b.GetHigh(), 1))
	case f.FittedKjMol != nil:
		out.Fit = quantity.Round(f.GetFittedKjMol(), 1) + " kJ/mol, with nothing left to tell how sure that is"
	case len(f.GetObservations()) == 0:
		out.Fit = "nobody noted when a stage was reached; the desk tells it: seamwright tell stage-observed"
	default:
		out.Fit = f.GetNoFit()
	}
	for _, s := range f.GetStages() {
		if s.FittedMin != nil {
			out.Stages = append(out.Stages, screens.RunStage{Stage: floor.Word(s.GetClock()), LabelMin: rounded(s.LabelMin), SeenMin: rounded(s.FittedMin)})
		}
	}
	return out
}

func rounded(x *float64) *float64 {
	if x == nil {
		return nil
	}
	r := float64(int64(*x*10+0.5)) / 10
	return &r
}

func energy(b *curesv1.Band) string {
	if b.GetLow() == b.GetHigh() {
		return quantity.Round(b.GetLow(), 1) + " kJ/mol"
	}
	return quantity.Round(b.GetLow(), 1) + " to " + quantity.Round(b.GetHigh(), 1) + " kJ/mol"
}

// nothingStated begins the basis of a product whose label names no activation
// energy: the band is that of the literature.
const nothingStated = "nothing stated"

func guessed(basis string) bool { return strings.HasPrefix(basis, nothingStated) }

func basisWords(basis string) string {
	words, _, _ := strings.Cut(basis, ";")
	return orWord(words, "its source is not told")
}
