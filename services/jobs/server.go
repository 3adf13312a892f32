package jobs

import (
	"context"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/types/known/anypb"
	"google.golang.org/protobuf/types/known/timestamppb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/journal"
	"seamwright/services/record"
)

// Server is the gRPC service.
type Server struct {
	jobsv1.UnimplementedJobsServiceServer
	desk    *record.Desk
	journal journal.Journal
}

// NewServer makes the service; the journal is what watchers are fed from.
func NewServer(d *record.Desk, j journal.Journal) *Server { return &Server{desk: d, journal: j} }

// Register puts the service into a server.
func (s *Server) Register(r grpc.ServiceRegistrar) { jobsv1.RegisterJobsServiceServer(r, s) }

// Record stores one fact.
func (s *Server) Record(ctx context.Context, req *jobsv1.RecordRequest) (*jobsv1.RecordResponse, error) {
	r, err := s.desk.Record(ctx, floor.Command{Stamp: req.GetStamp(), Body: record.Fact(req)}, Decide)
	if err != nil {
		return nil, err
	}
	return &jobsv1.RecordResponse{Receipt: r}, nil
}

// GetJob shows one job.
func (s *Server) GetJob(ctx context.Context, req *jobsv1.GetJobRequest) (*jobsv1.GetJobResponse, error) {
	resp := &jobsv1.GetJobResponse{}
	err := s.desk.View(ctx, req.GetMinSequence(), func(f *floor.Floor, now time.Time) {
		if j := f.Job(floor.RO(req.GetRo())); j != nil {
			resp.Job = job(f, j, now)
		}
		resp.Sequence, resp.Now = f.Seq(), timestamppb.New(now)
	})
	if err != nil {
		return nil, err
	}
	if resp.Job == nil {
		return nil, fault.Missing("job", req.GetRo(), "open it first, or correct the number")
	}
	return resp, nil
}

// ListJobs shows the jobs on the floor.
func (s *Server) ListJobs(ctx context.Context, req *jobsv1.ListJobsRequest) (*jobsv1.ListJobsResponse, error) {
	resp := &jobsv1.ListJobsResponse{}
	err := s.desk.View(ctx, req.GetMinSequence(), func(f *floor.Floor, now time.Time) {
		resp.Jobs = jobList(f, req.GetWithEnded(), now)
		resp.Sequence, resp.Now = f.Seq(), timestamppb.New(now)
	})
	if err != nil {
		return nil, err
	}
	return resp, nil
}

// ListFindings shows findings.
func (s *Server) ListFindings(ctx context.Context, req *jobsv1.ListFindingsRequest) (*jobsv1.ListFindingsResponse, error) {
	resp := &jobsv1.ListFindingsResponse{}
	err := s.desk.View(ctx, req.GetMinSequence(), func(f *floor.Floor, _ time.Time) {
		asked := func(fi *floor.FindingState) bool {
			return (req.GetRo() == "" || about(f, fi, floor.RO(req.GetRo()))) && (!req.GetOpenOnly() || fi.Open())
		}
		for _, fi := range f.FindingsThat(asked) {
			resp.Findings = append(resp.Findings, finding(fi))
		}
		resp.Sequence = f.Seq()
	})
	if err != nil {
		return nil, err
	}
	return resp, nil
}

// WatchFloor sends the journal's events, those to come included.
func (s *Server) WatchFloor(req *jobsv1.WatchFloorRequest, stream grpc.ServerStreamingServer[jobsv1.WatchFloorResponse]) error {
	send := func(r journal.Record) error {
		e, err := entry(r)
		if err != nil {
			return err
		}
		return stream.Send(&jobsv1.WatchFloorResponse{Entry: e})
	}
	from := max(req.GetFromSequence(), 1)
	if req.GetStopAtEnd() {
		return s.journal.Read(stream.Context(), from, journal.End, send)
	}
	return s.journal.Follow(stream.Context(), from, send)
}

// entry is a stored event as watchers see it.
func entry(r journal.Record) (*floorv1.Entry, error) {
	ev, err := journal.Decode(r)
	if err != nil {
		return nil, err
	}
	body, err := anypb.New(ev.Body)
	if err != nil {
		return nil, fault.Wrap(err, fault.Internal, "entry", "")
	}
	return &floorv1.Entry{
		Sequence: ev.Seq, Aggregate: ev.Aggregate, CommandId: ev.CommandID, Actor: ev.Actor,
		Role: floor.Enum[floorv1.Role](string(ev.Role)), Terminal: ev.Terminal,
		Received: moment(ev.Received), Occurred: moment(ev.Occurred), Earliest: moment(ev.Earliest), Latest: moment(ev.Latest),
		AgeKind: string(ev.AgeKind), Rules: ev.Rules, Body: body,
	}, nil
}

// moment leaves an unset time out.
func moment(t time.Time) *timestamppb.Timestamp {
	if t.IsZero() {
		return nil
	}
	return timestamppb.New(t)
}
