package booth

import (
	"context"

	"google.golang.org/grpc"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// Plan lets the service answer about the plan that a planner keeps.
func (s *Server) Plan(p *Planner) *Server {
	s.plan = p
	return s
}

func (s *Server) planner() (*Planner, error) {
	if s.plan == nil {
		return nil, fault.New(fault.Unavailable, "no-planner", "this booth service has no planner", "ask the one that speaks for the booths")
	}
	return s.plan, nil
}

// GetPlan shows the plan.
func (s *Server) GetPlan(ctx context.Context, req *boothv1.GetPlanRequest) (*boothv1.GetPlanResponse, error) {
	p, err := s.planner()
	if err != nil {
		return nil, err
	}
	out, err := p.current(ctx, req.GetMinSequence())
	if err != nil {
		return nil, err
	}
	return &boothv1.GetPlanResponse{Plan: out}, nil
}

// WatchPlan sends every plan. A viewer that does not keep up misses plans,
// never the newest.
func (s *Server) WatchPlan(_ *boothv1.WatchPlanRequest, stream grpc.ServerStreamingServer[boothv1.WatchPlanResponse]) error {
	p, err := s.planner()
	if err != nil {
		return err
	}
	if _, err := p.current(stream.Context(), 0); err != nil {
		return err
	}
	for sent := uint64(0); ; {
		made, moved := p.latest()
		if made != nil && made.GetNumber() != sent {
			sent = made.GetNumber()
			if err := stream.Send(&boothv1.WatchPlanResponse{Plan: made}); err != nil {
				return err
			}
		}
		select {
		case <-moved:
		case <-stream.Context().Done():
			return stream.Context().Err()
		}
	}
}

// WhatIf answers with the plan that would be.
func (s *Server) WhatIf(_ context.Context, req *boothv1.WhatIfRequest) (*boothv1.WhatIfResponse, error) {
	p, err := s.planner()
	if err != nil {
		return nil, err
	}
	return p.whatIf(req)
}

// clear refuses a start by hand that the plan could not keep. Nothing depends
// on it: two starts told at once may still meet, and the plan says so.
func (p *Planner) clear(b *boothv1.LoadPlanned) error {
	if b.GetKeep() != boothv1.Keep_KEEP_START || b.GetStart() == nil {
		return nil
	}
	return p.draft(nil).Clear(floor.LoadID(b.GetLoadId()), floor.BoothID(b.GetBoothId()), b.GetStart().AsTime())
}
