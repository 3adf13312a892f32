package rpc

import (
	"context"
	"fmt"
	"log/slog"
	"net"
	"path"
	"sync"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/keepalive"
	"google.golang.org/grpc/peer"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/fault"
)

// Limits against one client that asks for more than its share. A terminal has
// one person, and an import sends one call at a time.
const (
	MaxCalls     = 4   // of one client with one answer each, in flight at a time
	MaxWatches   = 64  // of one connection with many answers each, open at a time
	MaxConnCalls = 128 // of one connection, whatever terminals it speaks for
	maxStreams   = 512 // of one connection in all; what is beyond waits at the client
	maxHeader    = 16 << 10
	sayEvery     = time.Minute // at most, that calls were refused

	// A client that goes on calling while it is refused, without a pause, is
	// answered a little later each time: refusals are cheap, but not so cheap
	// that the others would not notice ten thousand in a second.
	refusedFree = 20 // refusals in a second that come at once
	paced       = 30 * time.Millisecond
)

// ReasonTooManyCalls is the reason of a refusal for the number of calls in
// flight. The call was not looked at: it may be sent again as it is.
const ReasonTooManyCalls = "too-many-calls"

// limiter counts the calls that are in flight. A client is the terminal that a
// call's stamp names, at the address it comes from, so that nobody can use up
// the share of a terminal at another address; a call without a stamp is its
// connection's. What the gate is asked and told is never counted or refused.
type limiter struct {
	log *slog.Logger
	max int

	mu      sync.Mutex
	clients map[string]*client // that have calls in flight
	refused int                // since it was last said
	said    time.Time
}

// client is what is known of a client while it has calls in flight.
type client struct {
	flying   int
	refusals int // in the second that began at since
	since    time.Time
}

func newLimiter(log *slog.Logger, most int) *limiter {
	return &limiter{log: log, max: most, clients: map[string]*client{}}
}

// gateCalls are the methods that a hold or a permit hangs on.
var gateCalls = map[string]bool{
	boothv1.BoothService_RequestPermit_FullMethodName: true,
	boothv1.BoothService_Override_FullMethodName:      true,
	boothv1.BoothService_ReturnPermit_FullMethodName:  true,
	boothv1.BoothService_Hear_FullMethodName:          true,
	boothv1.BoothService_GetGate_FullMethodName:       true,
	boothv1.BoothService_WatchGate_FullMethodName:     true,
}

// unlimited reports whether a method always passes: the gate's, and the
// health service, by which a supervisor sees that the program lives.
func unlimited(method string) bool {
	return gateCalls[method] || path.Dir(method) == "/grpc.health.v1.Health"
}

// share is what a call counts against.
type share struct {
	key  string
	name string // for people
	most int
}

// enter lets a call in or refuses it. A call that was let in is told to leave
// with the same shares.
func (l *limiter) enter(ctx context.Context, shares ...share) error {
	full, wait := l.take(shares)
	if full == nil {
		return nil
	}
	if wait > 0 {
		t := time.NewTimer(wait)
		defer t.Stop()
		select {
		case <-t.C:
		case <-ctx.Done():
		}
	}
	return tooMany(*full)
}

// take counts a call, or names the share that is used up and says how long the
// refusal waits.
func (l *limiter) take(shares []share) (full *share, wait time.Duration) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for i, s := range shares {
		c := l.clients[s.key]
		if c == nil {
			c = &client{}
			l.clients[s.key] = c
		}
		if c.flying >= s.most {
			l.giveBack(shares[:i])
			l.say(s)
			return &s, c.refuse(time.Now())
		}
		c.flying++
	}
	return nil, 0
}

// refuse counts a refusal and says how long it waits.
func (c *client) refuse(now time.Time) time.Duration {
	if now.Sub(c.since) >= time.Second {
		c.since, c.refusals = now, 0
	}
	if c.refusals++; c.refusals > refusedFree {
		return paced
	}
	return 0
}

func (l *limiter) leave(shares ...share) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.giveBack(shares)
}

func (l *limiter) giveBack(shares []share) {
	for _, s := range shares {
		if c := l.clients[s.key]; c.flying > 1 {
			c.flying--
		} else {
			delete(l.clients, s.key)
		}
	}
}

// say puts refusals into the log, once in a while: a flood must not fill it.
func (l *limiter) say(s share) {
	l.refused++
	if now := time.Now(); now.Sub(l.said) >= sayEvery {
		l.log.Warn("calls refused: a client has too many in flight", "client", s.name, "limit", s.most, "refused", l.refused)
		l.said, l.refused = now, 0
	}
}

func tooMany(s share) error {
	return fault.New(fault.Unavailable, ReasonTooManyCalls,
		fmt.Sprintf("%s has %d calls in flight, at most %d are taken at a time", s.name, s.most, s.most),
		"nothing of this call was recorded: wait for an answer, then send it again with the same command id")
}

// shares says what a call with one answer counts against; none: it passes.
func (l *limiter) shares(ctx context.Context, method string, req any) []share {
	if unlimited(method) {
		return nil
	}
	host, conn := from(ctx)
	terminal := ""
	if s, ok := req.(interface{ GetStamp() *floorv1.Stamp }); ok {
		terminal = s.GetStamp().GetTerminal()
	}
	switch {
	case terminal != "" && conn != "":
		return []share{{"call " + terminal + " " + host, "terminal " + brief(terminal), l.max}, {"conn " + conn, "the connection from " + conn, MaxConnCalls}}
	case terminal != "":
		return []share{{"call " + terminal, "terminal " + brief(terminal), l.max}}
	case conn != "":
		return []share{{"call " + conn, "the connection from " + conn, l.max}, {"conn " + conn, "the connection from " + conn, MaxConnCalls}}
	}
	return nil // a query of this process itself
}

// watches says what a call with many answers counts against.
func (l *limiter) watches(ctx context.Context, method string) []share {
	_, conn := from(ctx)
	if unlimited(method) || conn == "" {
		return nil
	}
	return []share{{"watch " + conn, "the connection from " + conn, MaxWatches}}
}

// from is where a call comes from, address and connection; empty for a call
// from inside the process.
func from(ctx context.Context) (host, conn string) {
	p, ok := peer.FromContext(ctx)
	if !ok {
		return "", ""
	}
	a, ok := p.Addr.(*net.TCPAddr)
	if !ok {
		return "", ""
	}
	return a.IP.String(), a.String()
}

// keptHandlers is how many goroutines are kept for calls; when all are busy a call
// gets one of its own. One that is kept has its stack grown already, which
// takes a good twentieth off the time that a post takes.
const keptHandlers = 16

// bounds are what the transport itself keeps every connection to.
func bounds() []grpc.ServerOption {
	return []grpc.ServerOption{
		grpc.NumStreamWorkers(keptHandlers),
		grpc.MaxConcurrentStreams(maxStreams), grpc.MaxHeaderListSize(maxHeader), grpc.ConnectionTimeout(10 * time.Second),
		grpc.KeepaliveEnforcementPolicy(keepalive.EnforcementPolicy{MinTime: 5 * time.Second, PermitWithoutStream: true}),
		grpc.KeepaliveParams(keepalive.ServerParameters{Time: time.Minute, Timeout: 20 * time.Second}),
	}
}
