package console

import (
	"bytes"
	"context"
	"encoding/json"
	"strconv"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/fault"
)

// Watch shows a shop's events as they come, one line each with its findings
// below; as JSON one object a line.
type Watch struct {
	At
	From string // first sequence; empty: what comes from now on
	Stop bool   // end at what is the newest event now
}

// Run watches until the context ends, which is no error.
func (q Watch) Run(ctx context.Context, o Out) error {
	req := &jobsv1.WatchFloorRequest{StopAtEnd: q.Stop}
	if q.From != "" {
		n, err := strconv.ParseUint(q.From, 10, 64)
		if err != nil || n == 0 {
			return fault.Bad("--from", show(q.From), "the number of an event, from 1")
		}
		req.FromSequence = n
	}
	err := q.with(ctx, func(c grpc.ClientConnInterface) error {
		if q.From == "" && !q.Stop {
			l, err := jobsv1.NewJobsServiceClient(c).ListJobs(ctx, &jobsv1.ListJobsRequest{})
			if err != nil {
				return err
			}
			req.FromSequence = l.GetSequence() + 1
		}
		return eachEntry(ctx, c, req, func(e *floorv1.Entry, body proto.Message) error {
			if o.JSON {
				return o.jsonLine(e)
			}
			return o.lines(entryLines(e, body)...)
		})
	})
	if ended(ctx, err) {
		return nil
	}
	return err
}

func (o Out) jsonLine(m proto.Message) error {
	b, err := protojson.MarshalOptions{UseProtoNames: true}.Marshal(m)
	if err != nil {
		return fault.Wrap(err, fault.Internal, "answer", "")
	}
	var line bytes.Buffer // protojson varies its blanks on purpose
	if err := json.Compact(&line, b); err != nil {
		return fault.Wrap(err, fault.Internal, "answer", "")
	}
	return o.lines(line.String())
}
