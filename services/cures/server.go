package cures

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/climate"
	"seamwright/services/calc/cure"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/record"
)

// Server is the gRPC service.
type Server struct {
	curesv1.UnimplementedCuresServiceServer
	desk *record.Desk
	thin *thinner
}

// NewServer makes the service.
func NewServer(d *record.Desk) *Server { return &Server{desk: d, thin: newThinner()} }

// Register puts the service into a server.
func (s *Server) Register(r grpc.ServiceRegistrar) { curesv1.RegisterCuresServiceServer(r, s) }

// Record stores one fact; a reading that tells nothing new is thinned.
func (s *Server) Record(ctx context.Context, req *curesv1.RecordRequest) (*curesv1.RecordResponse, error) {
	c := floor.Command{Stamp: req.GetStamp(), Body: record.Fact(req)}
	reading, ok := c.Body.(*curesv1.ReadingTaken)
	if !ok || reading.GetByHand() {
		r, err := s.desk.Record(ctx, c, Decide)
		if err != nil {
			return nil, err
		}
		return &curesv1.RecordResponse{Receipt: r}, nil
	}
	h, err := floor.Place(c.Stamp, s.desk.Clock.Now())
	if err != nil {
		return nil, err
	}
	return s.reading(ctx, c, h.Occurred, Decide)
}

// TakeReading stores one reading that a probe took at a moment, which must
// not lie in the future, thinned as any other. The stamp's age is written
// here.
func (s *Server) TakeReading(ctx context.Context, st *floorv1.Stamp, r *curesv1.ReadingTaken, at time.Time) (*curesv1.RecordResponse, error) {
	if now := s.desk.Clock.Now(); at.After(now) {
		return nil, fault.Bad("time", at.Format(time.RFC3339Nano), "must not be after now, "+now.Format(time.RFC3339Nano)+"; set the probe's clock")
	}
	st = proto.CloneOf(st)
	st.Age = &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_MEASURED}
	return s.reading(ctx, floor.Command{Stamp: st, Body: r}, at, decideAt(at))
}

// reading stores a probe's reading of a moment, unless an earlier one stands
// for it.
func (s *Server) reading(ctx context.Context, c floor.Command, at time.Time, decide record.Decide) (*curesv1.RecordResponse, error) {
	r := c.Body.(*curesv1.ReadingTaken)
	p := probe{r.GetZoneId(), r.GetProbeId()}
	if seq, stands := s.thin.stands(p, at, r.GetTempC(), s.zone(p.zone)); stands && !s.stored(c.Stamp.GetCommandId()) {
		return &curesv1.RecordResponse{Thinned: true, Receipt: &floorv1.Receipt{Sequence: seq, Occurred: timestamppb.New(at)}}, nil
	}
	receipt, err := s.desk.Record(ctx, c, decide)
	if err != nil {
		return nil, err
	}
	if !receipt.GetRepeated() {
		s.thin.keep(p, at, r.GetTempC(), receipt.GetSequence())
	}
	return &curesv1.RecordResponse{Receipt: receipt}, nil
}

// zone is a zone as it is defined now; the zero one: it is not.
func (s *Server) zone(id string) (z cure.Zone) {
	s.desk.Writer.View(func(uint64) {
		if c := s.desk.Floor.ZoneCourse(floor.ZoneID(id)); c != nil {
			z = c.Zone()
		}
	})
	return z
}

// stored reports whether a command has taken effect: told again, it is
// answered with its own receipt.
func (s *Server) stored(commandID string) (ok bool) {
	s.desk.Writer.View(func(uint64) { _, ok = s.desk.Floor.Taken(commandID) })
	return ok
}

// TakeReadings stores a trace of one zone, thinned. Each reading's command id
// is made from the request's and its own moment: a trace that is sent again
// changes nothing.
func (s *Server) TakeReadings(ctx context.Context, req *curesv1.TakeReadingsRequest) (*curesv1.TakeReadingsResponse, error) {
	now := s.desk.Clock.Now()
	if err := checkTrace(req, now); err != nil {
		return nil, err
	}
	trace, resp, in := newThinner(), &curesv1.TakeReadingsResponse{}, s.zone(req.GetZoneId())
	p := probe{req.GetZoneId(), req.GetProbeId()}
	for _, sm := range req.GetSamples() {
		at := sm.GetTime().AsTime()
		if _, stands := trace.stands(p, at, sm.GetTempC(), in); stands {
			resp.Thinned++
			continue
		}
		r, err := s.desk.Record(ctx, floor.Command{Stamp: traceStamp(req, at), Body: &curesv1.ReadingTaken{
			ZoneId: req.GetZoneId(), ProbeId: req.GetProbeId(), TempC: sm.GetTempC(), RhPercent: sm.RhPercent, SurfaceC: sm.SurfaceC,
		}}, decideAt(at))
		if err != nil {
			return nil, err
		}
		trace.keep(p, at, sm.GetTempC(), r.GetSequence())
		if !r.GetRepeated() {
			s.thin.keep(p, at, sm.GetTempC(), r.GetSequence())
			resp.Stored++
		}
		resp.Sequence = r.GetSequence()
	}
	return resp, nil
}

// checkTrace wants a trace whole before any of it is stored: in order, not from
// the future and not too old.
func checkTrace(req *curesv1.TakeReadingsRequest, now time.Time) error {
	if req.GetProbeId() == "" {
		return fault.Bad("probe_id", "nothing", "name the probe that the trace is from")
	}
	var last time.Time
	for i, sm := range req.GetSamples() {
		at := sm.GetTime().AsTime()
		path := fmt.Sprintf("samples[%d].time", i)
		switch {
		case i > 0 && !at.After(last):
			return fault.Bad(path, at.Format(time.RFC3339Nano), "must be after the reading before it, "+last.Format(time.RFC3339Nano)+"; sort the trace")
		case now.Sub(at) > floor.MaxAge:
			return fault.Bad(path, at.Format(time.RFC3339Nano), fmt.Sprintf("readings are taken up to %d days back, now from %s on; leave older ones out", floor.MaxAge/(24*time.Hour), now.Add(-floor.MaxAge).Format(time.RFC3339)))
		case at.After(now):
			return fault.Bad(path, at.Format(time.RFC3339Nano), "must not be after now, "+now.Format(time.RFC3339Nano)+"; set the logger's clock")
		}
		last = at
	}
	return nil
}

// decideAt decides on a reading of a trace: it stands at its own moment,
// however long it waited for its turn to be recorded.
func decideAt(at time.Time) record.Decide {
	return func(f *floor.Floor, c floor.Command, now time.Time) (floor.Event, error) {
		received := whole(f, now)
		c.Stamp.Age.Length = durationpb.New(max(0, received.Sub(at)))
		return Decide(f, c, received)
	}
}

func traceStamp(req *curesv1.TakeReadingsRequest, at time.Time) *floorv1.Stamp {
	st := proto.CloneOf(req.GetStamp())
	sum := sha256.Sum256(fmt.Appendf(nil, "%s|%s|%s|%d", st.GetCommandId(), req.GetZoneId(), req.GetProbeId(), at.UnixNano()))
	st.CommandId = "reading-" + hex.EncodeToString(sum[:16])
	st.Age = &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_MEASURED}
	return st
}

// ListZones shows the zones.
func (s *Server) ListZones(ctx context.Context, req *curesv1.ListZonesRequest) (*curesv1.ListZonesResponse, error) {
	resp := &curesv1.ListZonesResponse{}
	err := s.desk.View(ctx, req.GetMinSequence(), func(f *floor.Floor, now time.Time) {
		for _, id := range f.Zones() {
			if a, ok := f.Air(id, now); ok {
				resp.Zones = append(resp.Zones, zone(a))
			}
		}
		resp.Sequence, resp.Now = f.Seq(), timestamppb.New(now)
	})
	if err != nil {
		return nil, err
	}
	return resp, nil
}

func zone(a floor.Air) *curesv1.Zone {
	z := &curesv1.Zone{ZoneId: string(a.Zone), LowC: a.Set.Lo, HighC: a.Set.Hi, Fresh: a.Fresh}
	if a.Read {
		z.TempC, z.Read = &a.Last.C, timestamppb.New(a.Last.At)
	}
	if a.Humid {
		z.RhPercent = &a.RH
		if dew, err := climate.DewPoint(a.HumidTemp, a.RH); err == nil {
			z.DewPointC = &dew
		}
	}
	return z
}
