package rpc

import (
	"context"
	"io"
	"sync"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
)

// handlers are the methods of the services that were registered, by their
// full name, so that they can be called without the wire.
type handlers struct {
	grpc.ServiceRegistrar
	unary   map[string]called[grpc.MethodDesc]
	streams map[string]called[grpc.StreamDesc]
}

type called[D any] struct {
	desc D
	impl any
}

func newHandlers(r grpc.ServiceRegistrar) *handlers {
	return &handlers{r, map[string]called[grpc.MethodDesc]{}, map[string]called[grpc.StreamDesc]{}}
}

// RegisterService registers a service and notes its methods.
func (h *handlers) RegisterService(d *grpc.ServiceDesc, impl any) {
	h.ServiceRegistrar.RegisterService(d, impl)
	for _, m := range d.Methods {
		h.unary["/"+d.ServiceName+"/"+m.MethodName] = called[grpc.MethodDesc]{m, impl}
	}
	for _, m := range d.Streams {
		h.streams["/"+d.ServiceName+"/"+m.StreamName] = called[grpc.StreamDesc]{m, impl}
	}
}

// Direct is a connection inside the process without the wire, for those that
// call very often: a handler runs behind the same interceptors, in the
// caller's goroutine where it has one answer. Messages are copied, so that
// neither side can change what the other holds. There are no calls with several
// requests.
func (s *Server) Direct() grpc.ClientConnInterface { return direct{s} }

type direct struct{ s *Server }

// Invoke calls a method with one answer.
func (d direct) Invoke(ctx context.Context, method string, args, reply any, _ ...grpc.CallOption) error {
	m, ok := d.s.handlers.unary[method]
	if !ok {
		return fromWire(unimplemented(method))
	}
	if err := d.s.base.Err(); err != nil {
		return fromWire(ToStatus(stopping()).Err())
	}
	if _, ok := ctx.Deadline(); !ok {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, d.s.patience())
		defer cancel()
	}
	resp, err := m.desc.Handler(m.impl, ctx, func(req any) error { return copied(req, args) }, d.s.unary)
	if err != nil {
		return fromWire(err)
	}
	return copied(reply, resp)
}

// NewStream calls a method with one request and many answers.
func (d direct) NewStream(ctx context.Context, desc *grpc.StreamDesc, method string, _ ...grpc.CallOption) (grpc.ClientStream, error) {
	m, ok := d.s.handlers.streams[method]
	if !ok || desc.ClientStreams {
		return nil, fromWire(unimplemented(method))
	}
	if err := d.s.base.Err(); err != nil {
		return nil, fromWire(ToStatus(stopping()).Err())
	}
	ctx, cancel := context.WithCancel(ctx)
	return &directStream{server: d.s, ctx: ctx, cancel: cancel, method: method, m: m, answers: make(chan proto.Message, ahead)}, nil
}

// ahead is how many answers of a stream may wait for their reader.
const ahead = 64

func unimplemented(method string) error {
	return status.Errorf(codes.Unimplemented, "method %s cannot be called inside the process", method)
}

// copied fills a message with another one of its type.
func copied(to, from any) error {
	a, ok := to.(proto.Message)
	b, ok2 := from.(proto.Message)
	if !ok || !ok2 || a.ProtoReflect().Descriptor() != b.ProtoReflect().Descriptor() {
		return status.Errorf(codes.Internal, "%T does not fit into %T", from, to)
	}
	proto.Reset(a)
	proto.Merge(a, b)
	return nil
}

// directStream is both ends of a stream.
type directStream struct {
	server  *Server
	ctx     context.Context
	cancel  context.CancelFunc
	method  string
	m       called[grpc.StreamDesc]
	request proto.Message
	answers chan proto.Message
	once    sync.Once
	err     error // of the handler, once answers is closed
}

func (c *directStream) Header() (metadata.MD, error) { return nil, nil }
func (c *directStream) Trailer() metadata.MD         { return nil }
func (c *directStream) Context() context.Context     { return c.ctx }

// SendMsg takes the one request.
func (c *directStream) SendMsg(m any) error {
	p, ok := m.(proto.Message)
	if !ok {
		return status.Errorf(codes.Internal, "%T is no message", m)
	}
	c.request = proto.Clone(p)
	return nil
}

// CloseSend starts the handler.
func (c *directStream) CloseSend() error {
	c.once.Do(func() {
		c.server.serving.Go(func() {
			defer close(c.answers)
			defer c.cancel()
			info := &grpc.StreamServerInfo{FullMethod: c.method, IsServerStream: true}
			c.err = c.server.stream(c.m.impl, &directServer{client: c}, info, c.m.desc.Handler)
		})
	})
	return nil
}

// RecvMsg gives the next answer; io.EOF after the last.
func (c *directStream) RecvMsg(m any) error {
	answer, ok := <-c.answers
	switch {
	case ok:
		return copied(m, answer)
	case c.err != nil:
		return fromWire(c.err)
	}
	return io.EOF
}

// directServer is the handler's end.
type directServer struct {
	grpc.ServerStream
	client *directStream
	read   bool
}

func (s *directServer) Context() context.Context     { return s.client.ctx }
func (s *directServer) SetHeader(metadata.MD) error  { return nil }
func (s *directServer) SendHeader(metadata.MD) error { return nil }
func (s *directServer) SetTrailer(metadata.MD)       {}

// RecvMsg gives the request once.
func (s *directServer) RecvMsg(m any) error {
	if s.read || s.client.request == nil {
		return io.EOF
	}
	s.read = true
	return copied(m, s.client.request)
}

// SendMsg hands an answer over; it fails once the caller has gone.
func (s *directServer) SendMsg(m any) error {
	p, ok := m.(proto.Message)
	if !ok {
		return status.Errorf(codes.Internal, "%T is no message", m)
	}
	select {
	case s.client.answers <- proto.Clone(p):
		return nil
	case <-s.client.ctx.Done():
		return status.FromContextError(s.client.ctx.Err()).Err()
	}
}

// patience is how long a caller in the process waits for one answer: as long
// as one on the wire, or as long as the server was told that a call may take.
func (s *Server) patience() time.Duration {
	if s.longest > longestCall {
		return s.longest
	}
	return patience
}
