package rpc

import (
	"context"
	"fmt"
	"log/slog"
	"runtime/debug"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"

	"seamwright/services/fault"
)

// guarded runs a handler: a panic becomes an internal fault, every call one
// line in the log, every error a status.
func (s *Server) guarded(ctx context.Context, method string, handle func() error) error {
	begun := time.Now()
	err := s.recovered(handle)
	if err != nil && s.base.Err() != nil && fault.KindOf(asFault(err)) == fault.Cancelled {
		err = stopping()
	}
	code := codes.OK
	if err != nil {
		code = ToStatus(err).Code()
	}
	if kept, ok := s.flood.tell(method, code, err); ok {
		attrs := []slog.Attr{slog.String("method", method), slog.String("code", code.String()), slog.Duration("took", time.Since(begun)), slog.Any("err", err)}
		if kept > 0 {
			attrs = append(attrs, slog.Int("lines kept back", kept))
		}
		s.log.LogAttrs(ctx, level(code), "call", attrs...)
	}
	if err != nil {
		return ToStatus(err).Err()
	}
	return nil
}

func (s *Server) recovered(handle func() error) (err error) {
	defer func() {
		if p := recover(); p != nil {
			s.log.Error("panic in a call", "panic", fmt.Sprint(p), "stack", string(debug.Stack()))
			err = fault.New(fault.Internal, "panic", fmt.Sprint("panic: ", p), "")
		}
	}()
	return handle()
}

// level keeps the log quiet about what is well and about callers' mistakes,
// and loud about ours.
func level(c codes.Code) slog.Level {
	switch c {
	case codes.OK, codes.Canceled:
		return slog.LevelDebug
	case codes.Internal, codes.DataLoss:
		return slog.LevelError
	case codes.Unavailable:
		return slog.LevelWarn
	}
	return slog.LevelInfo
}

func stopping() error {
	return fault.New(fault.Unavailable, "stopping", "the shop's program is being stopped", "connect again in a moment")
}

// unary is the interceptor of calls with one answer.
func (s *Server) unary(ctx context.Context, req any, info *grpc.UnaryServerInfo, handler grpc.UnaryHandler) (resp any, err error) {
	counted := s.limit.shares(ctx, info.FullMethod, req)
	if err := s.limit.enter(ctx, counted...); err != nil {
		return nil, ToStatus(err).Err() // before any work, and without a line in the log
	}
	defer s.limit.leave(counted...)
	ctx, cancel := context.WithTimeout(ctx, s.longest)
	defer cancel()
	err = s.guarded(ctx, info.FullMethod, func() error {
		if err := s.admit(ctx, req); err != nil {
			return err
		}
		var err error
		resp, err = handler(ctx, req)
		return err
	})
	return resp, err
}

// stream is the interceptor of calls with many answers. They have no
// deadline of ours, but end when the server stops.
func (s *Server) stream(srv any, ss grpc.ServerStream, info *grpc.StreamServerInfo, handler grpc.StreamHandler) error {
	ctx, cancel := context.WithCancel(ss.Context())
	defer cancel()
	defer context.AfterFunc(s.base, cancel)()
	counted := s.limit.watches(ctx, info.FullMethod)
	if err := s.limit.enter(ctx, counted...); err != nil {
		return ToStatus(err).Err()
	}
	defer s.limit.leave(counted...)
	return s.guarded(ctx, info.FullMethod, func() error {
		return handler(srv, &checkedStream{ServerStream: ss, ctx: ctx, admit: s.admit})
	})
}

// checkedStream validates what comes in and carries the stream's own context.
type checkedStream struct {
	grpc.ServerStream
	ctx   context.Context
	admit func(context.Context, any) error
}

func (c *checkedStream) Context() context.Context { return c.ctx }

func (c *checkedStream) RecvMsg(m any) error {
	if err := c.ServerStream.RecvMsg(m); err != nil {
		return err
	}
	return c.admit(c.ctx, m)
}

// admit checks what came in and asks whether its teller may say it.
func (s *Server) admit(ctx context.Context, m any) error {
	p, ok := m.(proto.Message)
	if !ok {
		return nil
	}
	if err := Check(p); err != nil {
		return err
	}
	if s.vouch == nil {
		return nil
	}
	return s.vouch(ctx, p)
}
