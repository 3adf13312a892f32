package console

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/grpc"

	"seamwright/services/app"
	"seamwright/services/fault"
	"seamwright/services/rpc"
)

// Where a shop listens unless it is told otherwise.
const (
	DefaultGRPC    = "127.0.0.1:7410"
	DefaultScreens = "127.0.0.1:7480"
	DefaultShop    = "shop" // its name in the journal
)

// At says which running shop a command talks to: by its address, by its
// folder on this machine, or, where its services run apart, by the server on
// which they meet and its name there. Nothing: the usual address.
type At struct{ Address, Dir, NATS, Shop string }

// checkListen refuses addresses at which nothing can listen, each behind the
// flag that gave it. An empty one does not listen.
func checkListen(flags ...string) error {
	for i := 0; i < len(flags); i += 2 {
		flag, addr := flags[i], flags[i+1]
		if addr == "" {
			continue
		}
		_, port, err := net.SplitHostPort(addr)
		n, bad := strconv.Atoi(port)
		if err != nil || bad != nil || n < 0 || n > 65535 {
			return fault.Bad(flag, show(addr), "HOST:PORT, like 127.0.0.1:7410, the port at most 65535 and 0 for any free one")
		}
	}
	return nil
}

// runningFile is where a running shop says in its folder how to reach it.
func runningFile(dir string) string { return filepath.Join(dir, "running.json") }

// connection is one to a running shop.
type connection interface {
	grpc.ClientConnInterface
	Close() error
}

// dial connects to the shop; addr is where it should answer, empty where its
// services were asked for by name.
func (a At) dial(ctx context.Context) (c connection, addr string, err error) {
	addr = a.Address
	switch {
	case addr != "" && a.Dir != "":
		return nil, "", fault.Bad("--dir", show(a.Dir), "not beside --address; one of them says which shop")
	case a.NATS != "" && addr+a.Dir != "":
		return nil, "", fault.Bad("--nats", "beside --address or --dir", "alone; one of them says which shop")
	case a.NATS != "":
		c, err = app.Discover(ctx, a.NATS, cmp.Or(a.Shop, DefaultShop), nil)
		return c, "", err
	case addr == "" && a.Dir == "":
		addr = DefaultGRPC
	case addr == "":
		var at upAnswer
		b, err := os.ReadFile(runningFile(a.Dir))
		if err == nil {
			err = json.Unmarshal(b, &at)
		}
		if errors.Is(err, fs.ErrPermission) {
			return nil, "", unseen(a.Dir)
		}
		if err != nil || at.GRPC == "" {
			return nil, "", fault.New(fault.Unavailable, "shop-not-running", "no shop runs in "+a.Dir, "start it with: seamwright up --dir "+a.Dir)
		}
		addr = at.GRPC
	}
	c, err = rpc.Dial(addr)
	return c, addr, err
}

// unseen is the fault of a folder in which this user may not see whether a shop
// runs.
func unseen(dir string) error {
	return fault.New(fault.Denied, "shop-not-seen", "whether a shop runs in "+show(dir)+" is not for this user to see",
		"run it as the user who runs the shop, or say where the shop is")
}

// with connects to the shop for the time of one call of fn.
func (a At) with(ctx context.Context, fn func(grpc.ClientConnInterface) error) (err error) {
	c, addr, err := a.dial(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, c.Close()) }()
	return a.answered(fn(c), addr)
}

// unreached begins what gRPC says when nothing answers at an address, or it is
// none.
var unreached = []string{"connection error: ", "last connection error: ", "name resolver error: "}

// answered says in the shop's words that nothing answers at an address.
func (a At) answered(err error, addr string) error {
	e, ok := errors.AsType[*fault.Error](err)
	if !ok || addr == "" || e.Reason != "grpc-unavailable" || !slices.ContainsFunc(unreached, func(s string) bool { return strings.HasPrefix(e.Message, s) }) {
		return err
	}
	what, hint := "no shop answers at "+show(addr), "start one with: seamwright up, or say where it is with --dir or --address"
	if a.Dir != "" {
		what, hint = what+", where that of "+a.Dir+" was", "start it with: seamwright up --dir "+a.Dir
	}
	return fault.Because(err, fault.Unavailable, "shop-not-running", what, hint)
}

// ended reports whether an error only says that somebody stopped the command.
func ended(ctx context.Context, err error) bool {
	return ctx.Err() != nil && err != nil && (errors.Is(err, context.Canceled) || fault.KindOf(err) == fault.Cancelled)
}
