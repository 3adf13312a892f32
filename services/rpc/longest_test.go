package rpc_test

import (
	"context"
	"testing"
	"time"

	"google.golang.org/grpc"

	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/rpc"
)

// A call inside the process is given as long as one on the wire, unless the
// server was told that calls may take longer.
func TestACallInsideMayTakeAsLongAsTheServerWasTold(t *testing.T) {
	for longest, want := range map[time.Duration]time.Duration{0: 15 * time.Second, time.Hour: time.Hour} {
		var has time.Duration
		s := rpc.NewServer(rpc.Options{Longest: longest}, func(r grpc.ServiceRegistrar) {
			jobsv1.RegisterJobsServiceServer(r, &floorless{record: func(ctx context.Context) error {
				end, _ := ctx.Deadline()
				has = time.Until(end)
				return nil
			}})
		})
		if _, err := jobsv1.NewJobsServiceClient(s.Direct()).Record(t.Context(), from("bay-1-tablet")); err != nil {
			t.Fatal(err)
		}
		if has > want || has < want-10*time.Second {
			t.Errorf("with longest %s a call has %s, want %s", longest, has, want)
		}
		s.Stop()
	}
}
