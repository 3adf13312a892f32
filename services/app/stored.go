package app

import (
	"context"
	"errors"
	"fmt"
	"log/slog"

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

// StoredAt opens the journal of a shop on a server of its own, to look at it.
// One that is not there is not found, and not made.
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
		return nil, fault.Wrap(err, fault.Unavailable, "journal-unavailable", "the shop's journal server does not answer; try again")
	}
	j, err := openJournal(ctx, nc, shop, 0)
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
