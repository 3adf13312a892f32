package rpc

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/backoff"
	"google.golang.org/grpc/resolver"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/fault"
)

// Book says where the services of a shop can be reached.
type Book interface {
	// Where lists the addresses at which a service may be asked now, the
	// first one first, and a channel that closes when that may have changed.
	Where(service string) (addresses []string, changed <-chan struct{})
}

// Services are the services that a shop is made of, by the names under which
// a Book knows them.
func Services() []string { return []string{"jobs", "materials", "cures", "booth"} }

// Times of a Router.
const (
	glance     = 2 * time.Second        // for a query: a screen does not wait for a service that hangs
	attempt    = 5 * time.Second        // for one sending of a command
	resendMin  = 50 * time.Millisecond  // between two sendings
	resendMost = 500 * time.Millisecond // between two sendings, later
)

// Router is a connection to all services of a shop, each wherever it runs. A
// command that did not reach its service, or whose answer was lost, is sent
// again with its id, to another instance if there is one, until the caller's
// deadline: it takes effect once. A query is answered at once or not at all.
type Router struct {
	book  Book
	conns map[string]*grpc.ClientConn
}

var _ grpc.ClientConnInterface = (*Router)(nil)

// NewRouter makes a router over a book. Nothing is dialled before the first
// call.
func NewRouter(b Book) (*Router, error) {
	r := &Router{book: b, conns: map[string]*grpc.ClientConn{}}
	for _, s := range Services() {
		c, err := dial(scheme+":///"+s, grpc.WithResolvers(bookResolver{b}), grpc.WithConnectParams(grpc.ConnectParams{
			Backoff:           backoff.Config{BaseDelay: 100 * time.Millisecond, Multiplier: 1.6, Jitter: 0.2, MaxDelay: time.Second},
			MinConnectTimeout: time.Second,
		}))
		if err != nil {
			return nil, errors.Join(err, r.Close())
		}
		r.conns[s] = c
	}
	return r, nil
}

// Close ends the connections.
func (r *Router) Close() error {
	var err error
	for _, c := range r.conns {
		err = errors.Join(err, c.Close())
	}
	return err
}

// conn picks the connection of the service that a method belongs to:
// "/seamwright.jobs.v1.JobsService/Record".
func (r *Router) conn(method string) (service string, c *grpc.ClientConn, err error) {
	t := strings.Split(strings.TrimPrefix(method, "/"), ".")
	if len(t) > 1 && t[0] == domain {
		if c, ok := r.conns[t[1]]; ok {
			return t[1], c, nil
		}
	}
	return "", nil, fault.New(fault.Internal, "no-such-service", fmt.Sprintf("no service of a shop has the method %s", method), "")
}

// Invoke calls a method with one answer.
func (r *Router) Invoke(ctx context.Context, method string, args, reply any, opts ...grpc.CallOption) error {
	service, c, err := r.conn(method)
	if err != nil {
		return err
	}
	if _, ok := ctx.Deadline(); !ok {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, patience)
		defer cancel()
	}
	within := glance
	resend := repeatable(args)
	if resend {
		within = attempt
	}
	for wait := resendMin; ; wait = min(2*wait, resendMost) {
		err := r.heard(service)
		if err == nil {
			err = once(ctx, within, c, method, args, reply, opts)
		}
		if !resend || !unreached(err) {
			return err
		}
		select {
		case <-time.After(wait):
		case <-ctx.Done():
			return err
		}
	}
}

// heard says what to start when the book knows no instance of a service. The
// connection knows it too, but a moment later and first in words of its own.
func (r *Router) heard(service string) error {
	if at, _ := r.book.Where(service); len(at) > 0 {
		return nil
	}
	return fault.New(fault.Unavailable, ReasonUnheard, unheard(service), "start one: seamwright serve "+service)
}

func unheard(service string) string {
	return fmt.Sprintf("no %s service of the shop is heard", service)
}

func once(ctx context.Context, within time.Duration, c *grpc.ClientConn, method string, args, reply any, opts []grpc.CallOption) error {
	ctx, cancel := context.WithTimeout(ctx, within)
	defer cancel()
	return c.Invoke(ctx, method, args, reply, opts...)
}

// NewStream opens a call with many answers; it is not opened again.
func (r *Router) NewStream(ctx context.Context, desc *grpc.StreamDesc, method string, opts ...grpc.CallOption) (grpc.ClientStream, error) {
	service, c, err := r.conn(method)
	if err != nil {
		return nil, err
	}
	if err := r.heard(service); err != nil {
		return nil, err
	}
	return c.NewStream(ctx, desc, method, opts...)
}

// repeatable reports whether a request may be sent again: it carries a
// command id, under which it takes effect once.
func repeatable(req any) bool {
	s, ok := req.(interface{ GetStamp() *floorv1.Stamp })
	return ok && s.GetStamp().GetCommandId() != ""
}

// again are the reasons of unavailable faults after which the same command
// with the same id may fare better. Others (a fold that stopped) will not pass
// while somebody waits.
var again = []string{
	"grpc-unavailable", "grpc-deadlineexceeded", "deadline", "stopping", ReasonStarting, ReasonUnheard,
	"journal-busy", "append-outcome-unknown", "journal-unavailable",
}

func unreached(err error) bool {
	f, ok := errors.AsType[*fault.Error](err)
	return ok && f.Kind == fault.Unavailable && slices.Contains(again, f.Reason)
}

// scheme of the targets that a book resolves.
const scheme = "seamwright"

// bookResolver makes resolvers of a book.
type bookResolver struct{ book Book }

// Scheme is the scheme of targets.
func (b bookResolver) Scheme() string { return scheme }

// Build follows the book for one service.
func (b bookResolver) Build(t resolver.Target, cc resolver.ClientConn, _ resolver.BuildOptions) (resolver.Resolver, error) {
	ctx, end := context.WithCancel(context.Background())
	f := &follow{service: t.Endpoint(), book: b.book, cc: cc, end: end, done: make(chan struct{})}
	go f.run(ctx)
	return f, nil
}

// follow tells a connection where its service runs.
type follow struct {
	service string
	book    Book
	cc      resolver.ClientConn
	end     context.CancelFunc
	done    chan struct{}
}

func (f *follow) run(ctx context.Context) {
	defer close(f.done)
	for {
		at, changed := f.book.Where(f.service)
		f.tell(at)
		select {
		case <-changed:
		case <-ctx.Done():
			return
		}
	}
}

// tell hands the addresses over. The connection asks again by itself when
// they do not work, which changes nothing here: the book tells what is new.
func (f *follow) tell(at []string) {
	if len(at) == 0 {
		// A connection to one that went away is given up, which fails by
		// design; then callers are told why.
		_ = f.cc.UpdateState(resolver.State{})
		f.cc.ReportError(errors.New(unheard(f.service)))
		return
	}
	s := resolver.State{}
	for _, a := range slices.Compact(slices.Clone(at)) {
		s.Endpoints = append(s.Endpoints, resolver.Endpoint{Addresses: []resolver.Address{{Addr: a}}})
	}
	_ = f.cc.UpdateState(s) // an address that does not work is found out by the first call
}

// ResolveNow has nothing to ask: the book is followed.
func (f *follow) ResolveNow(resolver.ResolveNowOptions) {}

// Close ends the following.
func (f *follow) Close() {
	f.end()
	<-f.done
}
