package app

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"

	"seamwright/services/fault"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/natsd"
)

// Stored is a journal on a server of its own, with a connection of its own.
type Stored struct {
	*jet.Journal
	conn *nats.Conn
}

// silence is how long a server may leave a reader without a record: it sends
// thousands in a second, and a person waits for the end.
const silence = 10 * time.Second

// StoredAt opens the journal of a shop on a server of its own, to look at it.
// One that is not there is not found, and not made. A server that leaves a read
// without a record for 10 s is an unavailable fault, where a shop's services
// would wait until it is back.
func StoredAt(ctx context.Context, server, shop string, log *slog.Logger) (_ *Stored, err error) {
	nc, err := natsd.Dial(server, "seamwright command", log)
	if err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			nc.Close()
		}
	}()
	js, err := jetstream.New(nc)
	if err == nil {
		_, err = js.Stream(ctx, jet.StreamName(shop))
	}
	if errors.Is(err, jetstream.ErrStreamNotFound) {
		return nil, fault.New(fault.NotFound, "journal-not-found", fmt.Sprintf("the server holds no journal of a shop called %s", shop),
			"name the shop as its services do, with --shop")
	}
	if err != nil {
		return nil, fault.Because(err, fault.Unavailable, "journal-unavailable",
			fmt.Sprintf("the shop's journal server, or a majority of the servers that keep it together, does not answer: %v", err),
			"see that they run and are not halted, then try again")
	}
	j, err := jet.Open(ctx, nc, jet.Options{Shop: shop, Silence: silence})
	if err != nil {
		return nil, err
	}
	return &Stored{j, nc}, nil
}

// Close ends the look.
func (s *Stored) Close() error {
	err := s.Journal.Close()
	s.conn.Close()
	return err
}
