package rpc

import (
	"context"
	"errors"
	"io"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/status"

	"seamwright/services/fault"
)

// patience is how long a client waits for one answer when the caller set no
// deadline.
const patience = 15 * time.Second

// Dial makes a client connection to a shop at "host:port". Nothing is sent
// before the first call. The connection is not encrypted: the shop listens on
// the loopback address unless it is told otherwise, and then belongs behind a
// proxy or on a network of its own.
func Dial(addr string) (*grpc.ClientConn, error) { return dial("dns:///" + addr) }

func dial(target string, opts ...grpc.DialOption) (*grpc.ClientConn, error) {
	c, err := grpc.NewClient(target, append([]grpc.DialOption{
		grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithChainUnaryInterceptor(clientUnary), grpc.WithChainStreamInterceptor(clientStream),
	}, opts...)...)
	if err != nil {
		return nil, fault.Bad("address", target, "host:port as the shop printed it at its start")
	}
	return c, nil
}

// clientUnary gives a call a deadline and its error a kind.
func clientUnary(ctx context.Context, method string, req, reply any, cc *grpc.ClientConn, invoke grpc.UnaryInvoker, opts ...grpc.CallOption) error {
	if _, ok := ctx.Deadline(); !ok {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, patience)
		defer cancel()
	}
	return fromWire(invoke(ctx, method, req, reply, cc, opts...))
}

func clientStream(ctx context.Context, desc *grpc.StreamDesc, cc *grpc.ClientConn, method string, open grpc.Streamer, opts ...grpc.CallOption) (grpc.ClientStream, error) {
	cs, err := open(ctx, desc, cc, method, opts...)
	if err != nil {
		return nil, fromWire(err)
	}
	return faultStream{cs}, nil
}

// faultStream gives the errors of a stream a kind; io.EOF stays the end.
type faultStream struct{ grpc.ClientStream }

func (f faultStream) RecvMsg(m any) error { return fromWire(f.ClientStream.RecvMsg(m)) }
func (f faultStream) SendMsg(m any) error { return fromWire(f.ClientStream.SendMsg(m)) }

func fromWire(err error) error {
	if err == nil || errors.Is(err, io.EOF) {
		return err
	}
	e := FromStatus(status.Convert(err))
	switch {
	case e.Hint != "":
	case e.Reason == "grpc-unavailable":
		e.Hint = "check that a shop runs at that address"
	case e.Reason == "grpc-deadlineexceeded":
		e.Message, e.Hint = late, lateHint
	}
	return e
}
