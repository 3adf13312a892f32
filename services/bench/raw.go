package bench

import (
	"context"
	"fmt"
	"path/filepath"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"

	"seamwright/services/journal"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/natsd"
)

// bare is bare JetStream: the shop's own embedded server in a folder beside
// the shop's, a stream with the journal's settings, and one publisher inside
// the process.
type bare struct {
	server *natsd.Server
	conn   *nats.Conn
	js     jetstream.JetStream
	sample journal.Record // whose bytes are published
	n      int
}

// bareShop is the name of the bare stream's shop.
const bareShop = "bare"

// newBare starts the server below dir. The stream is made by the journal
// itself, so that its settings are the journal's to the last one.
func newBare(ctx context.Context, r *rig, sample journal.Record) (_ *bare, err error) {
	b := &bare{sample: sample}
	defer func() {
		if err != nil {
			b.stop()
		}
	}()
	if b.server, err = natsd.Start(natsd.Options{StoreDir: filepath.Join(r.dir, "bare"), Name: bareShop, Logger: r.log}); err != nil {
		return nil, err
	}
	if b.conn, err = b.server.Connect("bench"); err != nil {
		return nil, err
	}
	if _, err = jet.Open(ctx, b.conn, jet.Options{Shop: bareShop}); err != nil {
		return nil, err
	}
	b.js, err = jetstream.New(b.conn)
	return b, err
}

func (b *bare) stop() {
	if b.conn != nil {
		b.conn.Close()
	}
	if b.server != nil {
		b.server.Stop()
	}
}

// publish stores the sample once more, with a message id of its own and the
// record's headers, and returns when the server has acknowledged it.
func (b *bare) publish(ctx context.Context) error {
	b.n++
	r := b.sample
	r.ID = fmt.Sprintf("bare-%012d", b.n)
	m := nats.NewMsg("shop." + bareShop + "." + r.Aggregate)
	for name, v := range journal.Headers(r) {
		m.Header[name] = []string{v}
	}
	m.Header.Set(jetstream.MsgIDHeader, r.ID)
	m.Data = r.Payload
	_, err := b.js.PublishMsg(ctx, m)
	return err
}

// rate publishes for a while, one after the other, and gives the messages per
// second.
func (b *bare) rate(ctx context.Context, span time.Duration) (float64, error) {
	begun := time.Now()
	for n := 1; ; n++ {
		if err := b.publish(ctx); err != nil {
			return 0, err
		}
		if took := time.Since(begun); took >= span {
			return float64(n) / took.Seconds(), nil
		}
	}
}

// follow delivers the stream's new messages to a channel, by their ids.
func (b *bare) follow(ctx context.Context) (<-chan string, func(), error) {
	c, err := b.js.OrderedConsumer(ctx, jet.StreamName(bareShop), jetstream.OrderedConsumerConfig{DeliverPolicy: jetstream.DeliverNewPolicy})
	if err != nil {
		return nil, nil, err
	}
	ids := make(chan string, 1024)
	run, err := c.Consume(func(m jetstream.Msg) { ids <- m.Headers().Get(jetstream.MsgIDHeader) })
	if err != nil {
		return nil, nil, err
	}
	return ids, run.Stop, nil
}
