package app

import (
	"context"
	"fmt"
	"log/slog"
	"time"

	"github.com/nats-io/nats.go"
	"google.golang.org/grpc"

	"seamwright/services/bus"
	"seamwright/services/clock"
	"seamwright/services/fault"
	"seamwright/services/journal/natsd"
	"seamwright/services/rpc"
)

// Found is a shop whose services were found by their signs of life. It makes
// calls to each wherever it runs.
type Found struct {
	grpc.ClientConnInterface
	router *rpc.Router
	conn   *nats.Conn
}

// Discover finds the services of a shop at a NATS server. It waits until
// each was heard, or for as long as a living one may be silent; then those
// that were heard will do. Nobody heard is an unavailable fault.
func Discover(ctx context.Context, server, shop string, log *slog.Logger) (_ *Found, err error) {
	f := &Found{}
	defer func() {
		if err != nil {
			_ = f.Close()
		}
	}()
	if f.conn, err = natsd.Dial(server, "seamwright command", log); err != nil {
		return nil, err
	}
	s, err := listen(f.conn, shop, clock.Wall{})
	if err != nil {
		return nil, err
	}
	if err := s.gather(ctx); err != nil {
		return nil, err
	}
	f.router, err = rpc.NewRouter(s)
	f.ClientConnInterface = f.router
	return f, err
}

// gather waits for the signs of a whole shop.
func (s *signs) gather(ctx context.Context) error {
	enough := time.NewTimer(bus.Silence)
	defer enough.Stop()
	for {
		peers, changed := s.table.Of("", time.Now())
		heard := map[string]bool{}
		for _, p := range peers {
			heard[p.Service] = true
		}
		missing := 0
		for _, name := range rpc.Services() {
			if !heard[name] {
				missing++
			}
		}
		if missing == 0 {
			return nil
		}
		select {
		case <-changed:
		case <-ctx.Done():
			return fault.Wrap(ctx.Err(), fault.Cancelled, "cancelled", "")
		case <-enough.C:
			if len(peers) == 0 {
				return fault.New(fault.Unavailable, "shop-not-running", fmt.Sprintf("no service of shop %q was heard within %s", s.shop, bus.Silence),
					"check the server and the shop's name, and that its services run")
			}
			return nil
		}
	}
}

// Close ends the calls and the listening.
func (f *Found) Close() error {
	var err error
	if f.router != nil {
		err = f.router.Close()
	}
	if f.conn != nil {
		f.conn.Close()
	}
	return err
}
