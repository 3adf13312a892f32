package console

import (
	"context"
	"fmt"
	"strings"
	"time"

	"google.golang.org/grpc"

	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/calc/quantity"
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
	req := &materialsv1.PlanRunRequest{ZoneId: q.Bay, Ros: q.ROs}
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
	return runTotals{t.GetSeams(), t.GetLeftOut(), t.GetNozzles(), t.GetOpened(), t.GetOnSeamsMl(), t.GetWasteMl(), t.GetThrownMl(), t.GetTakenMl(), t.GetMinutes()}
}

func (a runAnswer) Lines() []string {
	ml := func(x float64) string { return quantity.Round(x, 1) + " ml" }
	var out []string
	if len(a.Steps) == 0 && len(a.Unplanned) == 0 {
		what := "no seam is planned or prepped in " + a.Bay
		if len(a.ROs) > 0 {
			what = "of " + strings.Join(a.ROs, ", ") + " " + what
		}
		out = append(out, what+"; a car is in the bay where it was last moved to, or where it was last worked on")
	}
	for i, s := range a.Steps {
		if s.Why != "" {
			out = append(out, "     "+a.change(s)+": "+s.Why)
		}
		seam := s.Seam
		if s.Parts > 1 {
			seam = fmt.Sprintf("%s, part %d of %d", seam, s.Part, s.Parts)
		}
		out = append(out, fmt.Sprintf("%3d  %-28s %9s  from %s, %s left in it", i+1, seam, ml(s.Laid), clockOf(s.Begins), ml(s.Left)))
	}
	for _, x := range a.Stored {
		out = append(out, fmt.Sprintf("then %s: %s left. %s", pack(x.Cartridge, x.Lot, x.Nth), ml(x.Left), x.Why))
	}
	for _, x := range a.Asides {
		out = append(out, fmt.Sprintf("not %s: %s", pack(x.Cartridge, x.Lot, 0), x.Why))
	}
	for _, x := range a.Unplanned {
		out = append(out, fmt.Sprintf("left out %s: %s", x.Seam, x.Why))
	}
	if len(a.Steps) > 0 {
		word := "none better exists"
		if !a.Proved {
			word = "the best that was found"
		}
		out = append(out,
			fmt.Sprintf("in all  %s (%s)", a.Totals, word),
			fmt.Sprintf("panel by panel it would be  %s", a.Naive))
		if a.Gap != "" {
			out = append(out, a.Gap)
		}
		out = append(out,
			fmt.Sprintf("nozzles gel by the bay's hot edge, %s °C. Gloves, eyes and breathing as the safety data sheet says.", quantity.Round(a.HotC, 1)))
	}
	return out
}

func (a runAnswer) change(s runStep) string {
	var did []string
	if s.Opens {
		did = append(did, "open "+pack(s.Cartridge, s.Lot, s.Nth))
	} else {
		did = append(did, "take "+pack(s.Cartridge, s.Lot, s.Nth))
	}
	switch {
	case s.Fits:
		did = append(did, fmt.Sprintf("fit nozzle %d, %s, and purge it", s.Nozzle, tipOr(s.Tip)))
	case s.NozzleID != "":
		did = append(did, "nozzle "+s.NozzleID+" is on")
	}
	return strings.Join(did, ", ")
}

func tipOr(tip string) string {
	if tip == "" {
		return "any tip"
	}
	return tip
}

func pack(cartridge, lot string, nth int32) string {
	switch {
	case cartridge != "":
		return "cartridge " + cartridge
	case nth > 0:
		return fmt.Sprintf("new cartridge %d of lot %s", nth, lot)
	}
	return "lot " + lot
}

// String is the totals in a line.
func (t runTotals) String() string {
	s := fmt.Sprintf("%d seams, %d nozzles, %d cartridges opened, %s ml on the seams, %s ml lost, %s min", t.Seams, t.Nozzles, t.Opened,
		quantity.Round(t.OnSeams, 1), quantity.Round(t.Waste+t.Thrown, 1), quantity.Round(t.Minutes, 0))
	if t.LeftOut > 0 {
		s += fmt.Sprintf(", %d left out", t.LeftOut)
	}
	return s
}

// clockOf is a time after the start, "12:05".
func clockOf(seconds float64) string {
	d := time.Duration(seconds * float64(time.Second)).Round(time.Second)
	return fmt.Sprintf("%d:%02d", int(d.Minutes()), int(d.Seconds())%60)
}
