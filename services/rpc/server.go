package rpc

import (
	"context"
	"fmt"
	"log/slog"
	"net"
	"sync"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/health"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/reflection"
	"google.golang.org/grpc/test/bufconn"
	"google.golang.org/protobuf/proto"

	"seamwright/services/fault"
)

// The server's times.
const (
	longestCall = 30 * time.Second // a call with one answer takes no longer
	grace       = 3 * time.Second  // running calls get it when the server stops
	bufferBytes = 1 << 20          // between the two ends inside the process
)

// Options of a server. The zero value is ready for use.
type Options struct {
	Log     *slog.Logger  // nil: slog.Default
	Longest time.Duration // the longest time for one call; 0: 30 s

	MaxCalls int // of one client in flight at a time; 0: the constant MaxCalls

	// Vouch is asked about every message that came in well formed: a denied
	// fault refuses what its teller may not say. Nil: everything may be said.
	Vouch func(context.Context, proto.Message) error
}

// Server is the shop's gRPC server. It can be called inside the process from
// the start, and over TCP once it listens.
type Server struct {
	grpc    *grpc.Server
	health  *health.Server
	log     *slog.Logger
	longest time.Duration
	vouch   func(context.Context, proto.Message) error
	limit   *limiter
	flood   flood
	buffer  *bufconn.Listener
	base    context.Context // ends when the server stops
	end     context.CancelFunc
	serving sync.WaitGroup

	handlers *handlers
}

// NewServer makes a server with the interceptors, the health service and
// reflection; register puts the shop's own services in.
func NewServer(o Options, register func(grpc.ServiceRegistrar)) *Server {
	s := &Server{
		log: o.Log, longest: o.Longest, vouch: o.Vouch,
		health: health.NewServer(), buffer: bufconn.Listen(bufferBytes),
	}
	if s.log == nil {
		s.log = slog.Default()
	}
	if s.longest == 0 {
		s.longest = longestCall
	}
	s.base, s.end = context.WithCancel(context.Background())
	if o.MaxCalls == 0 {
		o.MaxCalls = MaxCalls
	}
	s.limit = newLimiter(s.log, o.MaxCalls)
	s.grpc = grpc.NewServer(append(bounds(),
		grpc.ChainUnaryInterceptor(s.unary), grpc.ChainStreamInterceptor(s.stream),
		grpc.WaitForHandlers(true),
	)...)
	s.handlers = newHandlers(s.grpc)
	register(s.handlers)
	healthpb.RegisterHealthServer(s.grpc, s.health)
	reflection.Register(s.grpc)
	s.serve(s.buffer)
	return s
}

// Listen takes calls over TCP at "host:port"; port 0 is any free one. It
// returns the address. A taken port is an unavailable fault that names it.
func (s *Server) Listen(addr string) (net.Addr, error) {
	l, err := Listen("the gRPC server", addr)
	if err != nil {
		return nil, err
	}
	s.serve(l)
	return l.Addr(), nil
}

// Listen opens a TCP port, for whoever is named. A taken port is an
// unavailable fault that says who wanted which.
func Listen(who, addr string) (net.Listener, error) {
	l, err := net.Listen("tcp", addr)
	if err != nil {
		f := fault.Wrap(err, fault.Unavailable, "port-taken", "free it or name another one; port 0 takes any")
		f.Message = fmt.Sprintf("%s cannot listen at %s: %v", who, addr, err)
		return nil, f
	}
	return l, nil
}

func (s *Server) serve(l net.Listener) {
	s.serving.Go(func() {
		if err := s.grpc.Serve(l); err != nil && s.base.Err() == nil {
			s.log.Error("gRPC server ended", "at", l.Addr().String(), "err", err)
		}
	})
}

// Dial makes a client connection inside the process, with the interceptors
// of both sides.
func (s *Server) Dial() (*grpc.ClientConn, error) {
	return dial("passthrough:///in-process", grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) {
		return s.buffer.DialContext(ctx)
	}))
}

// Healthy tells the health service whether the shop can be used.
func (s *Server) Healthy(ok bool) {
	state := healthpb.HealthCheckResponse_NOT_SERVING
	if ok {
		state = healthpb.HealthCheckResponse_SERVING
	}
	s.health.SetServingStatus("", state)
}

// Stop ends the streams, lets running calls finish within 3 s, ends them
// otherwise, and returns when nothing of the server runs. It may be called
// twice.
func (s *Server) Stop() {
	s.health.Shutdown()
	s.end()
	hard := time.AfterFunc(grace, s.grpc.Stop)
	defer hard.Stop()
	s.grpc.GracefulStop()
	s.serving.Wait()
}
