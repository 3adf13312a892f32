package booth

import (
	"context"
	"fmt"
	"time"

	"google.golang.org/grpc"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/access"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/record"
)

// Server is the gRPC service.
type Server struct {
	boothv1.UnimplementedBoothServiceServer
	desk   *record.Desk
	gate   *Gate
	people *access.Shop
	plan   *Planner // nil: none
}

// NewServer makes the service over a gate; the people's PINs are asked for
// overrides.
func NewServer(d *record.Desk, g *Gate, people *access.Shop) *Server {
	return &Server{desk: d, gate: g, people: people}
}

// Register puts the service into a server.
func (s *Server) Register(r grpc.ServiceRegistrar) { boothv1.RegisterBoothServiceServer(r, s) }

// Record stores one fact.
func (s *Server) Record(ctx context.Context, req *boothv1.RecordRequest) (*boothv1.RecordResponse, error) {
	fact := record.Fact(req)
	if b, ok := fact.(*boothv1.LoadPlanned); ok && s.plan != nil {
		if err := s.plan.clear(b); err != nil {
			return nil, err
		}
	}
	r, err := s.desk.Record(ctx, floor.Command{Stamp: req.GetStamp(), Body: fact}, Decide)
	if err != nil {
		return nil, err
	}
	return &boothv1.RecordResponse{Receipt: r}, nil
}

// RequestPermit asks for leave to spray now.
func (s *Server) RequestPermit(ctx context.Context, req *boothv1.RequestPermitRequest) (*boothv1.RequestPermitResponse, error) {
	a, err := s.gate.request(ctx, ask{
		stamp: req.GetStamp(), booth: floor.BoothID(req.GetBoothId()), load: floor.LoadID(req.GetLoadId()), untouched: req.GetUntouched(),
	})
	if err != nil {
		return nil, err
	}
	resp := &boothv1.RequestPermitResponse{Reasons: reasons(a.reasons), Sequence: a.seq}
	if a.permit != nil {
		resp.Permit = permit(*a.permit)
	}
	return resp, nil
}

// Override gives leave over open reasons to a foreman who proves it by PIN.
func (s *Server) Override(ctx context.Context, req *boothv1.OverrideRequest) (*boothv1.OverrideResponse, error) {
	if err := s.foreman(ctx, req.GetStamp(), req.GetPin()); err != nil {
		return nil, err
	}
	a, err := s.gate.request(ctx, ask{
		stamp: req.GetStamp(), booth: floor.BoothID(req.GetBoothId()), load: floor.LoadID(req.GetLoadId()),
		override: &override{req.GetStamp().GetActor(), req.GetReason(), time.Duration(req.GetMinutes() * float64(time.Minute))},
	})
	if err != nil {
		return nil, err
	}
	return &boothv1.OverrideResponse{Permit: permit(*a.permit), OverReasons: reasons(a.reasons), Sequence: a.seq}, nil
}

func (s *Server) foreman(ctx context.Context, st *floorv1.Stamp, pin string) error {
	if s.people == nil {
		return fault.New(fault.Denied, "no-people", "this shop has no people with PINs", "enter the foreman in the people file")
	}
	p, err := s.people.Check(ctx, st.GetActor(), pin, s.desk.Clock.Now())
	if err != nil {
		return err
	}
	if p.Role != floor.Foreman || st.GetRole() != floorv1.Role_ROLE_FOREMAN {
		return fault.New(fault.Denied, "not-a-foreman", fmt.Sprintf("%s is a %s; only a foreman overrides the gate", p.Name, p.Role), "ask a foreman")
	}
	return nil
}

// ReturnPermit gives a permit back unused.
func (s *Server) ReturnPermit(ctx context.Context, req *boothv1.ReturnPermitRequest) (*boothv1.ReturnPermitResponse, error) {
	seq, err := s.gate.giveBack(ctx, req.GetStamp(), req.GetPermitId())
	if err != nil {
		return nil, err
	}
	return &boothv1.ReturnPermitResponse{Sequence: seq}, nil
}

// Hear notes that a terminal is alive, and lets the other booth services know.
func (s *Server) Hear(_ context.Context, req *boothv1.HearRequest) (*boothv1.HearResponse, error) {
	if s.gate.Hear(req.GetTerminal(), s.desk.Clock.Now()) && s.gate.opt.Spread != nil {
		s.gate.opt.Spread(req.GetTerminal())
	}
	return &boothv1.HearResponse{}, nil
}

// GetGate shows what holds a booth.
func (s *Server) GetGate(ctx context.Context, req *boothv1.GetGateRequest) (*boothv1.GetGateResponse, error) {
	b := floor.BoothID(req.GetBoothId())
	live := s.gate.live()
	var state *boothv1.Gate
	err := s.desk.View(ctx, req.GetMinSequence(), func(f *floor.Floor, _ time.Time) {
		if f.Booth(b) != nil { // at the clock's own moment: one that was set back holds
			state = s.gate.sure(f, b, live, s.desk.Clock.Now())
		}
	})
	if err != nil {
		return nil, err
	}
	if state == nil {
		return nil, fault.Missing("booth", req.GetBoothId(), "define it first")
	}
	if beat, _ := s.gate.latest(b); beat != nil {
		state.Beat = beat.GetBeat()
	}
	return &boothv1.GetGateResponse{Gate: state}, nil
}

// WatchGate sends every beat. A viewer that does not keep up misses beats,
// never the newest.
func (s *Server) WatchGate(req *boothv1.WatchGateRequest, stream grpc.ServerStreamingServer[boothv1.WatchGateResponse]) error {
	b, known := floor.BoothID(req.GetBoothId()), false
	s.desk.Writer.View(func(uint64) { known = s.desk.Floor.Booth(b) != nil })
	if !known {
		return fault.Missing("booth", req.GetBoothId(), "define it first")
	}
	s.gate.watchers.Add(1)
	defer s.gate.watchers.Add(-1)
	sent := uint64(0)
	for {
		state, moved := s.gate.latest(b)
		if state != nil && state.GetBeat() != sent {
			sent = state.GetBeat()
			if err := stream.Send(&boothv1.WatchGateResponse{Gate: state}); err != nil {
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
