package rpc

import (
	"log/slog"
	"net"
	"sync"

	"google.golang.org/grpc"
	"google.golang.org/grpc/health"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"

	"seamwright/services/fault"
)

// ReasonStarting is the reason of every answer of Waiting.
const ReasonStarting = "starting"

// ReasonUnheard is the reason of every answer of a Router for a service of
// which the shop has no instance.
const ReasonUnheard = "service-unheard"

// Waiting answers in place of a shop's server that cannot serve yet: health
// is NOT_SERVING, everything else unavailable.
type Waiting struct {
	grpc    *grpc.Server
	serving sync.WaitGroup
}

// Wait answers at "host:port" until Stop; port 0 is any free one. It returns
// the address. A taken port is an unavailable fault that names it.
func Wait(addr string, log *slog.Logger) (*Waiting, net.Addr, error) {
	l, err := Listen("the gRPC server", addr)
	if err != nil {
		return nil, nil, err
	}
	starting := ToStatus(fault.New(fault.Unavailable, ReasonStarting, "the service waits for the shop's journal", "ask again in a moment")).Err()
	w := &Waiting{grpc: grpc.NewServer(grpc.UnknownServiceHandler(func(any, grpc.ServerStream) error { return starting }))}
	h := health.NewServer()
	h.SetServingStatus("", healthpb.HealthCheckResponse_NOT_SERVING)
	healthpb.RegisterHealthServer(w.grpc, h)
	w.serving.Go(func() {
		if err := w.grpc.Serve(l); err != nil {
			log.Error("gRPC server ended while waiting", "at", l.Addr().String(), "err", err)
		}
	})
	return w, l.Addr(), nil
}

// Stop ends the answers and frees the address.
func (w *Waiting) Stop() {
	w.grpc.Stop()
	w.serving.Wait()
}
