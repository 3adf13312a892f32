// Package jet is the journal of package journal on NATS JetStream: one
// stream for each shop, one subject for each aggregate, the stream's
// sequence as the journal's number.
//
// The stream is kept in files, forgets nothing by age, count or size, and
// denies deleting and purging over the bus, so that its numbers stay
// contiguous. Each message carries the record in CloudEvents headers and
// payload, the number that it expects the stream to end with, and the
// command id as Nats-Msg-Id. Several records of one Append travel as an
// atomic batch. Readers use throw-away pull consumers whose state lives in
// the server's memory; nothing durable belongs to a reader.
package jet

import (
	"context"
	"errors"
	"fmt"
	"sync/atomic"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"

	"seamwright/services/fault"
	"seamwright/services/journal"
)

// Options of a journal on JetStream.
type Options struct {
	Shop       string
	Replicas   int           // servers that must keep the stream; 0: 1
	Duplicates time.Duration // how long the stream remembers command ids; 0: 10 min; at least 100 ms
	Timeout    time.Duration // wait for one answer before asking what became of it; 0: 5 s
	Silence    time.Duration // a Read to which no record comes for so long is unavailable; 0: it waits until the server is back
}

// Journal is a handle on one shop's stream.
type Journal struct {
	nc      *nats.Conn
	js      jetstream.JetStream
	stream  jetstream.Stream
	name    string
	source  string
	prefix  string // of subjects: "shop.<shop>."
	timeout time.Duration
	silence time.Duration // 0: no limit
	closed  chan struct{}
	closing atomic.Bool

	replicas int  // servers that keep the stream
	together bool // they are several
}

var (
	_ journal.Journal = (*Journal)(nil)
	_ journal.Chainer = (*Journal)(nil)
)

// StreamName is the name of a shop's stream.
func StreamName(shop string) string { return "shop-" + shop }

// Open finds the shop's stream on the connection's server or makes it. A
// stream that is there already must be set up so that it keeps the
// journal's promises; one that is not is refused, not changed. The
// connection stays the caller's.
func Open(ctx context.Context, nc *nats.Conn, o Options) (*Journal, error) {
	if err := journal.CheckShop(o.Shop); err != nil {
		return nil, err
	}
	if o.Timeout == 0 {
		o.Timeout = 5 * time.Second
	}
	js, err := jetstream.New(nc, jetstream.WithDefaultTimeout(o.Timeout))
	if err != nil {
		return nil, unavailable(err)
	}
	j := &Journal{
		nc: nc, js: js, name: StreamName(o.Shop), source: journal.Source(o.Shop),
		prefix: "shop." + o.Shop + ".", timeout: o.Timeout, silence: o.Silence, closed: make(chan struct{}),
	}
	want := config(o)
	j.stream, err = js.Stream(ctx, j.name)
	if errors.Is(err, jetstream.ErrStreamNotFound) {
		j.stream, err = js.CreateStream(ctx, want)
	}
	if err != nil {
		return nil, unavailable(err)
	}
	if err := checkConfig(j.stream.CachedInfo().Config, want); err != nil {
		return nil, err
	}
	j.replicas = j.stream.CachedInfo().Config.Replicas
	j.together = j.replicas > 1
	return j, nil
}

func config(o Options) jetstream.StreamConfig {
	c := jetstream.StreamConfig{
		Name: StreamName(o.Shop), Subjects: []string{"shop." + o.Shop + ".>"},
		Description: "journal of a shop: append only",
		Retention:   jetstream.LimitsPolicy, Storage: jetstream.FileStorage, Discard: jetstream.DiscardNew,
		MaxConsumers: -1, MaxMsgs: -1, MaxBytes: -1, MaxMsgsPerSubject: -1, MaxMsgSize: -1,
		Duplicates: o.Duplicates, Replicas: max(o.Replicas, 1),
		DenyDelete: true, DenyPurge: true, AllowAtomicPublish: true,
		PersistMode: jetstream.DefaultPersistMode,
	}
	if c.Duplicates == 0 {
		c.Duplicates = 10 * time.Minute
	}
	return c
}

// checkConfig compares the settings on which a promise hangs.
func checkConfig(has, want jetstream.StreamConfig) error {
	for _, s := range []struct {
		name      string
		has, want any
	}{
		{"subjects", fmt.Sprint(has.Subjects), fmt.Sprint(want.Subjects)},
		{"retention", has.Retention, want.Retention},
		{"storage", has.Storage, want.Storage},
		{"discard", has.Discard, want.Discard},
		{"max age", has.MaxAge, want.MaxAge},
		{"max messages", has.MaxMsgs, want.MaxMsgs},
		{"max bytes", has.MaxBytes, want.MaxBytes},
		{"max messages per subject", has.MaxMsgsPerSubject, want.MaxMsgsPerSubject},
		{"deny delete", has.DenyDelete, want.DenyDelete},
		{"deny purge", has.DenyPurge, want.DenyPurge},
		{"atomic batches", has.AllowAtomicPublish, want.AllowAtomicPublish},
		{"rollup headers", has.AllowRollup, want.AllowRollup},
		{"message expiry", has.AllowMsgTTL, want.AllowMsgTTL},
		{"persist mode", has.PersistMode, want.PersistMode},
		{"mirror", has.Mirror != nil, want.Mirror != nil},
		{"sources", len(has.Sources), len(want.Sources)},
		{"sealed", has.Sealed, want.Sealed},
	} {
		if s.has != s.want {
			return unfit(has.Name, s.name, s.has, s.want)
		}
	}
	if has.Replicas < want.Replicas {
		return unfit(has.Name, "replicas", has.Replicas, want.Replicas)
	}
	return nil
}

func unfit(stream, setting string, has, want any) error {
	return fault.New(fault.Unavailable, "stream-settings",
		fmt.Sprintf("stream %s: %s is %v, the journal needs %v", stream, setting, has, want),
		"set it right with the bus's own tools, or use another store")
}

// Last asks the stream for its last sequence.
func (j *Journal) Last(ctx context.Context) (uint64, error) {
	if err := j.open(); err != nil {
		return 0, err
	}
	info, err := j.stream.Info(ctx)
	if err != nil {
		return 0, unavailable(err)
	}
	return info.State.LastSeq, nil
}

// Source is the source of every record.
func (j *Journal) Source() string { return j.source }

// Close ends this handle and its readers; the connection stays open.
func (j *Journal) Close() error {
	if j.closing.CompareAndSwap(false, true) {
		close(j.closed)
	}
	return nil
}

func (j *Journal) open() error {
	select {
	case <-j.closed:
		return journal.Closed()
	default:
		return nil
	}
}

func unavailable(err error) error {
	return fault.Wrap(err, fault.Unavailable, "journal-unavailable", "the shop's journal server does not answer; try again")
}
