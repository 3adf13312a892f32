package app

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/url"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"

	"seamwright/services/fault"
	"seamwright/services/journal"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/natsd"
	"seamwright/services/journal/tree"
	"seamwright/services/rpc"
)

// Board is the part that shows the screens; the others are rpc.Services.
const Board = "board"

// Apart says what one of several processes of a shop runs. They meet at a
// NATS server of its own, which holds the journal: each folds it into a floor
// of its own, and finds the others by their signs of life.
type Apart struct {
	NATS     string   // URL of the server, with user and password if it wants them
	Monitor  string   // URL of the server's HTTP monitoring, to see that it syncs; of several each, with commas; empty: nobody can look
	Replicas int      // servers that keep the journal together; 0: 1
	Services []string // what runs here: of rpc.Services and Board
	Proof    string   // folder of the journal's proof; one process of a shop keeps it. Empty: another one does

	// Advertise is the address under which the other processes reach GRPC,
	// "host:port"; empty: where it listens, on the address by which this
	// machine reaches the server.
	Advertise string
}

func (p *Apart) check(o Options) error {
	switch {
	case o.Dir != "" || o.Bus+o.MQTT != "":
		return fault.Bad("folder and bus address", strings.TrimSpace(o.Dir+" "+o.Bus+" "+o.MQTT), "none beside a server of its own: the journal is there")
	case p.NATS == "":
		return fault.Bad("NATS address", "nothing", "the URL of the shop's server, like nats://127.0.0.1:4222")
	case p.Replicas < 0 || p.Replicas > maxReplicas || p.Replicas > 0 && p.Replicas%2 == 0:
		return fault.Bad("replicas", p.Replicas, "1, 3 or 5: more than half of the servers must agree")
	case len(p.Services) == 0:
		return fault.Bad("services", "none", "some of "+strings.Join(parts(), ", "))
	case (o.Screens != "") != p.runs(Board):
		return fault.Bad("screens address", fmt.Sprintf("%q", o.Screens), "one for the process that runs "+Board+", none for others")
	case o.GRPC == "" && slices.ContainsFunc(p.Services, func(s string) bool { return s != Board }):
		return fault.Bad("gRPC address", `""`, "one for a service, port 0 for any free port")
	}
	for _, s := range p.Services {
		if !slices.Contains(parts(), s) {
			return fault.Bad("service", fmt.Sprintf("%q", s), "one of "+strings.Join(parts(), ", "))
		}
	}
	return nil
}

// maxReplicas is what JetStream takes.
const maxReplicas = 5

func parts() []string { return append(rpc.Services(), Board) }

func (p *Apart) runs(name string) bool { return slices.Contains(p.Services, name) }

// runs reports whether a part runs in this process.
func (a *App) runs(name string) bool { return a.opt.Apart == nil || a.opt.Apart.runs(name) }

// Waits between two attempts to begin.
const (
	awaitMin  = 100 * time.Millisecond
	awaitMost = time.Second
	remind    = 30 * time.Second // to say again what it waits for
)

// await opens the journal as soon as its server is there. Until then the
// gRPC address says that nothing is served yet, and the log what is waited
// for.
func (a *App) await(ctx context.Context) error {
	if a.opt.GRPC != "" {
		w, at, err := rpc.Wait(a.opt.GRPC, a.opt.Log)
		if err != nil {
			return err
		}
		defer w.Stop()
		a.opt.GRPC = at.String() // the services take it over
	}
	said, last := "", time.Time{}
	for wait := awaitMin; ; wait = min(2*wait, awaitMost) {
		err := a.open(ctx)
		if err == nil || !passes(err) {
			return err
		}
		if a.store != nil {
			_ = a.store.close()
			a.store = nil
		}
		if text := err.Error(); text != said || time.Since(last) > remind {
			a.opt.Log.Warn("waiting for the shop's journal", "server", bare(a.opt.Apart.NATS), "err", err)
			said, last = text, time.Now()
		}
		select {
		case <-time.After(wait):
		case <-ctx.Done():
			return fault.Wrap(errors.Join(err, ctx.Err()), fault.Cancelled, "cancelled", "")
		}
	}
}

// passes reports whether what kept the journal shut can pass by itself: a
// server that is not there yet. A wrong password, a stream that does not keep
// the journal's promises, damage: a person must look.
func passes(err error) bool {
	switch fault.KindOf(err) {
	case fault.Corrupt, fault.Denied, fault.Invalid, fault.Cancelled:
		return false
	}
	return !slices.Contains([]string{"stream-settings", "sync-off", monitorElsewhere, journal.ReasonStopped, journal.ReasonUnknownType}, fault.ReasonOf(err))
}

// openApart opens the journal on a server of its own.
func openApart(ctx context.Context, o Options) (_ *store, err error) {
	s := &store{}
	defer func() {
		if err != nil {
			_ = s.close()
		}
	}()
	server, err := checkSync(ctx, o.Apart.Monitor)
	if err != nil {
		return nil, err
	}
	if s.conn, err = natsd.Dial(o.Apart.NATS, "seamwright "+strings.Join(o.Apart.Services, " "), o.Log, habits(o)...); err != nil {
		return nil, err
	}
	if err := checkSame(ctx, s.conn, o.Apart.Monitor, server); err != nil {
		return nil, err
	}
	if server.silent != nil {
		o.Log.Warn("of one server nobody can say whether it syncs", "err", server.silent)
	}
	if o.Apart.Proof != "" {
		if err := notGoneAt(ctx, s.conn, o.Shop, o.Apart.Proof); err != nil {
			return nil, err
		}
	}
	j, err := openJournal(ctx, s.conn, o.Shop, o.Apart.Replicas)
	if err != nil {
		return nil, err
	}
	s.journal = j // not before: a journal that was not opened is none to close
	if o.Apart.Proof == "" {
		o.Log.Info("this process keeps no proof of the journal; one of the shop's must, with a proof folder")
		return s, nil
	}
	if s.unlock, err = tree.Lock(o.Apart.Proof); err != nil {
		return nil, err
	}
	return s, s.prove(ctx, o, o.Apart.Proof)
}

// habits of a connection to a server that may go away: it is noticed soon,
// and said.
func habits(o Options) []nats.Option {
	return []nats.Option{
		nats.PingInterval(2 * time.Second), nats.MaxPingsOutstanding(2),
		nats.DisconnectErrHandler(func(_ *nats.Conn, err error) {
			if err == nil {
				return // this process left
			}
			o.Log.Warn("the shop's server is away: nothing is recorded and the gate holds until it is back", "server", bare(o.Apart.NATS), "err", err)
		}),
		nats.ReconnectHandler(func(*nats.Conn) { o.Log.Info("the shop's server is back", "server", bare(o.Apart.NATS)) }),
	}
}

func openJournal(ctx context.Context, nc *nats.Conn, shop string, replicas int) (*jet.Journal, error) {
	j, err := jet.Open(ctx, nc, jet.Options{Shop: shop, Replicas: replicas})
	if errors.Is(err, jetstream.ErrJetStreamNotEnabled) || errors.Is(err, nats.ErrNoResponders) {
		return nil, fault.Because(err, fault.Unavailable, "jetstream-off", "the shop's server has no JetStream, where the journal must be",
			"turn it on in the server's configuration, as deploy/nats.conf does")
	}
	return j, err
}

// bare is a URL without user and password, for the log.
func bare(server string) string {
	var out []string
	for one := range strings.SplitSeq(server, ",") {
		if u, err := url.Parse(strings.TrimSpace(one)); err == nil && u.Host != "" {
			out = append(out, u.Scheme+"://"+u.Host)
		}
	}
	return strings.Join(out, ",")
}

// reachable is the address under which other processes reach the services.
func (a *App) reachable() string {
	if p := a.opt.Apart; p != nil && p.Advertise != "" {
		return p.Advertise
	}
	host, port, err := net.SplitHostPort(a.addr.GRPC)
	if err != nil {
		return ""
	}
	if ip := net.ParseIP(host); ip == nil || !ip.IsUnspecified() {
		return a.addr.GRPC
	}
	if ip, err := a.store.conn.GetClientIP(); err == nil {
		return net.JoinHostPort(ip.String(), port)
	}
	if host, err = os.Hostname(); err != nil {
		return ""
	}
	return net.JoinHostPort(host, port)
}
