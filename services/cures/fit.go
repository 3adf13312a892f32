package cures

import (
	"context"
	"errors"
	"fmt"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// stages are those of a bead that people can see reached.
var stages = []floorv1.Clock{
	floorv1.Clock_CLOCK_NOZZLE_GEL, floorv1.Clock_CLOCK_TOOLING, floorv1.Clock_CLOCK_FLOW_OUT,
	floorv1.Clock_CLOCK_HANDLING, floorv1.Clock_CLOCK_FULL_CURE,
}

// ShowFit shows a product's label beside what was seen.
func (s *Server) ShowFit(ctx context.Context, req *curesv1.ShowFitRequest) (*curesv1.ShowFitResponse, error) {
	var resp *curesv1.ShowFitResponse
	err := s.desk.View(ctx, req.GetMinSequence(), func(f *floor.Floor, now time.Time) {
		if p := f.Product(floor.ProductID(req.GetProductId()), now); p != nil {
			resp = showFit(p, f.Observations(p.ID))
			resp.Sequence = f.Seq()
		}
	})
	if err == nil && resp == nil {
		err = fault.Missing("product", req.GetProductId(), "look up its identifier, or import its file first")
	}
	return resp, err
}

// showFit fits what was seen. Observations of earlier revisions count: it is
// the same material until somebody says otherwise by another identifier.
func showFit(p *floor.Product, seen []floor.Observation) *curesv1.ShowFitResponse {
	low, _, high := p.Law.EnergyJ()
	resp := &curesv1.ShowFitResponse{
		ProductId: string(p.ID), ReferenceTempC: p.Law.ReferenceC(), LabelBasis: p.Basis,
		LabelKjMol: &curesv1.Band{Low: low / 1000, High: high / 1000},
	}
	var in []cure.Observed
	var used []*curesv1.Observation
	for _, o := range seen {
		v := &curesv1.Observation{
			SeamId: string(o.Seam), Clock: o.Clock, Began: timestamppb.New(o.From), Seen: timestamppb.New(o.At),
			Minutes: o.At.Sub(o.From).Minutes(), Early: o.Early,
		}
		resp.Observations = append(resp.Observations, v)
		one := cure.Observed{Stage: o.Clock.String(), Seen: o.Where.Hindsight(), From: o.From, At: o.At}
		c, known := one.ConstantC(p.Law)
		switch {
		case !known:
			v.LeftOut = "the temperature that it cured at is not known"
		case o.Guessed:
			v.LeftOut, v.ConstantTempC = "when it was seen is only claimed", &c
		default:
			in, used = append(in, one), append(used, v)
		}
	}
	fit, points, err := cure.FitObserved(p.Law, nil, in)
	if err == nil {
		_, err = fit.Law()
	}
	for i, v := range used {
		if i < len(points) {
			v.ConstantTempC = &points[i].TempC
		}
	}
	if err != nil {
		resp.NoFit = noFit(err)
	} else {
		resp.FittedKjMol, resp.DegreesOfFreedom = proto.Float64(fit.EnergyJ/1000), int32(fit.DoF)
		if fit.DoF > 0 {
			resp.FittedBandKjMol = &curesv1.Band{Low: fit.LowJ / 1000, High: fit.HighJ / 1000}
		}
	}
	for _, k := range stages {
		st := &curesv1.FittedStage{Clock: k}
		if d, ok := p.Needs(k, ""); ok {
			st.LabelMin = proto.Float64(d.Minutes())
		}
		if m, ok := fit.RefMinutes[k.String()]; ok && err == nil {
			st.FittedMin = &m
		}
		if st.LabelMin != nil || st.FittedMin != nil {
			resp.Stages = append(resp.Stages, st)
		}
	}
	return resp
}

// noFit says why there is none.
func noFit(err error) string {
	if e, ok := errors.AsType[*fault.Error](err); ok && len(e.Fields) == 1 {
		return fmt.Sprintf("points: %v: %s", e.Fields[0].Value, e.Fields[0].Limit)
	}
	return err.Error()
}
