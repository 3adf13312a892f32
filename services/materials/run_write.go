package materials

import (
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/calc/run"
)

// write puts a run into an answer.
func write(resp *materialsv1.PlanRunResponse, p run.Problem, r run.Run) {
	product := map[string]string{}
	for _, s := range p.Seams {
		product[s.ID] = s.ProductID
	}
	for _, s := range r.Steps {
		resp.Steps = append(resp.Steps, step(s, product[s.SeamID]))
	}
	for _, x := range r.Stored {
		resp.Stored = append(resp.Stored, &materialsv1.RunRest{
			CartridgeId: x.Pack.ID, LotId: x.Pack.LotID, Nth: int32(x.Pack.Nth), LeftMl: float64(x.Left), UseBy: moment(x.UseBy), Discard: x.Discard, Why: x.Why,
		})
	}
	for _, x := range r.Asides {
		resp.Asides = append(resp.Asides, &materialsv1.RunAside{CartridgeId: x.ID, LotId: x.LotID, Why: x.Why, Passed: x.Passed})
	}
	for _, x := range r.Unplanned {
		resp.Unplanned = append(resp.Unplanned, &materialsv1.RunUnplanned{SeamId: x.SeamID, Reason: x.Reason, Why: x.Why})
	}
	resp.Totals, resp.Naive, resp.Proved = totals(r.Totals), totals(r.Naive), r.Proved
	resp.Gap = r.Gap
	resp.Least = &materialsv1.RunLeast{LeftOut: int32(r.Least.Left), Nozzles: int32(r.Least.Nozzles), WasteMl: float64(r.Least.Waste)}
}

func step(s run.Step, product string) *materialsv1.RunStep {
	return &materialsv1.RunStep{
		SeamId: s.SeamID, Part: int32(s.Part), Parts: int32(s.Parts), ProductId: product,
		CartridgeId: s.Pack.ID, LotId: s.Pack.LotID, Nth: int32(s.Pack.Nth),
		Nozzle: int32(s.Nozzle), NozzleId: s.NozID, Tip: s.Tip.String(), Recut: s.Recut, Opens: s.Opens, Fits: s.Fits, Why: s.Why,
		LaidMl: float64(s.Laid), WasteMl: float64(s.Waste), ChangeMl: float64(s.Equalise + s.Purge + s.HoldUp), LeftMl: float64(s.Left),
		BeginsS: s.Begins.Seconds(), EndsS: s.Ends.Seconds(),
	}
}

func totals(t run.Totals) *materialsv1.RunTotals {
	return &materialsv1.RunTotals{
		Seams: int32(t.Laid), LeftOut: int32(t.Left), Nozzles: int32(t.Nozzles), Opened: int32(t.Opened), OnSeamsMl: float64(t.OnSeams),
		WasteMl: float64(t.Waste), ThrownMl: float64(t.Thrown), TakenMl: float64(t.Taken), Minutes: t.Took.Minutes(),
	}
}
