package console

import (
	"context"
	"fmt"
	"slices"
	"time"

	"google.golang.org/grpc"

	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/fault"
)

// SealingRun asks a running shop in which order the seams that are prepped in
// a bay are best laid, out of which cartridges and through which nozzles.
type SealingRun struct {
	At
	Bay     string
	ROs     []string
	MMPerS  string
	PurgeML string
	HoldUp  string
	Waste   string
	Equal   string
}

type runAnswer struct {
	Bay        string         `json:"bay"`
	ROs        []string       `json:"-"` // that were asked about; none: all
	Now        string         `json:"now"`
	HotC       float64        `json:"hot_c"`
	ReadAt     *string        `json:"read_at"` // null: the bay was never read
	ReadC      *float64       `json:"read_c"`
	Fresh      bool           `json:"read_fresh"`
	age        time.Duration  // of that reading
	Steps      []runStep      `json:"steps"`
	Stored     []runRest      `json:"stored"`
	Asides     []runAside     `json:"asides"`
	Unplanned  []runUnplanned `json:"unplanned"`
	NotPrepped []string       `json:"not_prepped"`
	Totals     runTotals      `json:"totals"`
	Naive      runTotals      `json:"in_the_given_order"`
	Proved     bool           `json:"proved"`
	Gap        string         `json:"not_ruled_out"`
	Least      runLeast       `json:"at_least"`
}

type runLeast struct {
	LeftOut int32   `json:"left_out"`
	Nozzles int32   `json:"nozzles"`
	Waste   float64 `json:"waste_ml"`
}

type runStep struct {
	Seam      string  `json:"seam"`
	Part      int32   `json:"part"`
	Parts     int32   `json:"parts"`
	Product   string  `json:"product"`
	Cartridge string  `json:"cartridge"` // empty: a new one
	Lot       string  `json:"lot"`
	Nth       int32   `json:"nth_new"`
	Nozzle    int32   `json:"nozzle"` // 0: one that was on
	NozzleID  string  `json:"nozzle_id"`
	Tip       string  `json:"tip"`
	Recut     bool    `json:"recut"`
	Opens     bool    `json:"opens"`
	Fits      bool    `json:"fits"`
	Why       string  `json:"why"`
	Laid      float64 `json:"laid_ml"`
	Waste     float64 `json:"waste_ml"`
	Change    float64 `json:"change_ml"`
	Left      float64 `json:"left_ml"`
	Begins    float64 `json:"begins_s"`
	Ends      float64 `json:"ends_s"`
}

type runRest struct {
	Cartridge string  `json:"cartridge"`
	Lot       string  `json:"lot"`
	Nth       int32   `json:"nth_new"`
	Left      float64 `json:"left_ml"`
	UseBy     *string `json:"use_by"`
	Discard   bool    `json:"discard"`
	Why       string  `json:"why"`
}

type runAside struct {
	Cartridge string `json:"cartridge"`
	Lot       string `json:"lot"`
	Passed    bool   `json:"passed"`
	Why       string `json:"why"`
}

type runUnplanned struct {
	Seam   string `json:"seam"`
	Reason string `json:"reason"`
	Why    string `json:"why"`
}

type runTotals struct {
	Seams   int32   `json:"seams"`
	LeftOut int32   `json:"left_out"`
	Nozzles int32   `json:"nozzles"`
	Opened  int32   `json:"cartridges_opened"`
	OnSeams float64 `json:"on_seams_ml"`
	Tooled  float64 `json:"tooled_off_ml"`
	Waste   float64 `json:"waste_ml"`
	Thrown  float64 `json:"thrown_ml"`
	Taken   float64 `json:"taken_ml"`
	Minutes float64 `json:"minutes"`
}

// Run asks and answers.
func (q SealingRun) Run(ctx context.Context, o Out) error {
	req, err := q.request()
	if err != nil {
		return err
	}
	var r *materialsv1.PlanRunResponse
	if err := q.with(ctx, func(c grpc.ClientConnInterface) (err error) {
		r, err = materialsv1.NewStockServiceClient(c).PlanRun(ctx, req)
		return err
	}); err != nil {
		return err
	}
	a := runAnswerOf(q.Bay, r)
	a.ROs = req.GetRos()
	return o.put(a)
}

func (q SealingRun) request() (*materialsv1.PlanRunRequest, error) {
	if q.Bay == "" {
		return nil, fault.Bad("BAY", "missing", "give the zone of a bay")
	}
	req := &materialsv1.PlanRunRequest{ZoneId: q.Bay}
	for _, ro := range q.ROs {
		if !floorID.MatchString(ro) {
			return nil, fault.Bad("--ro", show(ro), idForm)
		}
		if !slices.Contains(req.Ros, ro) {
			req.Ros = append(req.Ros, ro)
		}
	}
	for _, f := range []struct {
		flag, text string
		to         **float64
		low, high  float64
		over       bool // low itself is not in
	}{
		{"--mm-per-s", q.MMPerS, &req.MmPerS, 0, 500, true},
		{"--purge-ml", q.PurgeML, &req.PurgeMl, 0, 1000, false},
		{"--hold-up-ml", q.HoldUp, &req.HoldUpMl, 0, 1000, false},
		{"--waste-percent", q.Waste, &req.WastePercent, 0, 100, false},
		{"--equalise-ml", q.Equal, &req.EqualiseMl, 0, 1000, false},
	} {
		if f.text == "" {
			continue
		}
		limit := fmt.Sprintf("a number from %g to %g", f.low, f.high)
		if f.over {
			limit = fmt.Sprintf("a number above %g, to %g", f.low, f.high)
		}
		x, err := number(f.flag, f.text, limit)
		if err != nil {
			return nil, err
		}
		if x < f.low || x > f.high || f.over && x == f.low {
			return nil, fault.Bad(f.flag, show(f.text), limit)
		}
		*f.to = &x
	}
	return req, nil
}

func runAnswerOf(bay string, r *materialsv1.PlanRunResponse) runAnswer {
	a := runAnswer{
		Bay: bay, Now: moment(r.GetNow().AsTime()), HotC: r.GetHotC(), Proved: r.GetProved(), Totals: runTotalsOf(r.GetTotals()), Naive: runTotalsOf(r.GetNaive()),
		Gap: r.GetGap(), Least: runLeast{r.GetLeast().GetLeftOut(), r.GetLeast().GetNozzles(), r.GetLeast().GetWasteMl()},
		Steps: []runStep{}, Stored: []runRest{}, Asides: []runAside{}, Unplanned: []runUnplanned{}, NotPrepped: append([]string{}, r.GetNotPrepped()...),
	}
	if at := r.GetReadAt(); at != nil {
		text := moment(at.AsTime())
		a.ReadAt, a.ReadC, a.Fresh, a.age = &text, &r.ReadC, r.GetReadFresh(), r.GetNow().AsTime().Sub(at.AsTime())
	}
	for _, s := range r.GetSteps() {
		a.Steps = append(a.Steps, runStep{
			s.GetSeamId(), s.GetPart(), s.GetParts(), s.GetProductId(), s.GetCartridgeId(), s.GetLotId(), s.GetNth(), s.GetNozzle(), s.GetNozzleId(), s.GetTip(),
			s.GetRecut(), s.GetOpens(), s.GetFits(), s.GetWhy(), s.GetLaidMl(), s.GetWasteMl(), s.GetChangeMl(), s.GetLeftMl(), s.GetBeginsS(), s.GetEndsS(),
		})
	}
	for _, x := range r.GetStored() {
		rest := runRest{Cartridge: x.GetCartridgeId(), Lot: x.GetLotId(), Nth: x.GetNth(), Left: x.GetLeftMl(), Discard: x.GetDiscard(), Why: x.GetWhy()}
		if x.GetUseBy() != nil {
			text := moment(x.GetUseBy().AsTime())
			rest.UseBy = &text
		}
		a.Stored = append(a.Stored, rest)
	}
	for _, x := range r.GetAsides() {
		a.Asides = append(a.Asides, runAside{x.GetCartridgeId(), x.GetLotId(), x.GetPassed(), x.GetWhy()})
	}
	for _, x := range r.GetUnplanned() {
		a.Unplanned = append(a.Unplanned, runUnplanned{x.GetSeamId(), x.GetReason(), x.GetWhy()})
	}
	return a
}

func runTotalsOf(t *materialsv1.RunTotals) runTotals {
	tooled := max(0, t.GetTakenMl()-t.GetOnSeamsMl()-t.GetWasteMl())
	return runTotals{t.GetSeams(), t.GetLeftOut(), t.GetNozzles(), t.GetOpened(), t.GetOnSeamsMl(), tooled, t.GetWasteMl(), t.GetThrownMl(), t.GetTakenMl(), t.GetMinutes()}
}
