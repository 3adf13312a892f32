package jet

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
)

const (
	fetchAhead = 500             // messages that a reader asks for at a time; up to twice as many are on their way
	idleAfter  = 2 * time.Second // silence after which a reader asks whether it has missed something
	askFor     = time.Minute     // how long the server keeps a request that it cannot fill
)

// puller asks one consumer for its messages, in requests of many, ahead of
// what is read. It speaks the consumer's protocol itself, since a journal is
// read at every start and the client library's own iterator makes a context
// and a timer for each message.
type puller struct {
	nc      *nats.Conn
	sub     *nats.Subscription
	msgs    chan *nats.Msg
	back    chan nats.Status // the connection came back
	subject string           // of requests
	request []byte
	awaited int // messages that were asked for and did not come yet
	silence *time.Timer
}

// newPuller listens on an inbox of its own.
func (j *Journal) newPuller(consumer string) (*puller, error) {
	p := &puller{
		nc: j.nc, msgs: make(chan *nats.Msg, 2*fetchAhead+16), // room for all that was asked for and for what the server says besides
		back:    j.nc.StatusChanged(nats.CONNECTED),
		subject: fmt.Sprintf("%sCONSUMER.MSG.NEXT.%s.%s", jetstream.DefaultAPIPrefix, j.name, consumer),
		request: fmt.Appendf(nil, `{"batch":%d,"expires":%d,"idle_heartbeat":%d}`, fetchAhead, askFor, idleAfter/2),
		silence: time.NewTimer(idleAfter),
	}
	var err error
	if p.sub, err = j.nc.ChanSubscribe(j.nc.NewInbox(), p.msgs); err != nil {
		p.stop()
		return nil, err
	}
	return p, nil
}

func (p *puller) stop() {
	p.silence.Stop()
	if p.sub != nil {
		_ = p.sub.Unsubscribe() // fails when the connection is gone, and the subscription with it
	}
	p.nc.RemoveStatusListener(p.back)
}

// next waits for a message, or returns none after a time without one. An
// error means that the consumer does not go on.
func (p *puller) next(ctx context.Context) (*nats.Msg, error) {
	if err := p.ask(); err != nil {
		return nil, err
	}
	select {
	case m := <-p.msgs: // mostly there is one, and no timer needs to be set
		if m, err := p.sort(m); m != nil || err != nil {
			return m, err
		}
	default:
	}
	p.silence.Reset(idleAfter)
	alive := false
	for {
		if err := p.ask(); err != nil {
			return nil, err
		}
		select {
		case m := <-p.msgs:
			alive = true
			if m, err := p.sort(m); m != nil || err != nil {
				return m, err
			}
		case <-p.back:
			return nil, errors.New("the connection was away, and what was asked for went with it")
		case <-p.silence.C:
			if !alive {
				return nil, errors.New("the consumer gives no sign of life")
			}
			return nil, nil
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
}

// ask keeps at least fetchAhead messages asked for.
func (p *puller) ask() error {
	for p.awaited < fetchAhead {
		if err := p.nc.PublishRequest(p.subject, p.sub.Subject, p.request); err != nil {
			return err
		}
		p.awaited += fetchAhead
	}
	return nil
}

// sort gives a record's message, nothing for a sign of life or the end of a
// request, or an error when the server says that it does not go on.
func (p *puller) sort(m *nats.Msg) (*nats.Msg, error) {
	if strings.HasPrefix(m.Reply, ackPrefix) {
		p.awaited--
		return m, nil
	}
	status := m.Header.Get("Status")
	switch status {
	case "100": // sign of life
		return nil, nil
	case "408": // a request's time is over
		n, err := strconv.Atoi(m.Header.Get("Nats-Pending-Messages"))
		if err != nil {
			return nil, fmt.Errorf("a request ended without its count: %w", err)
		}
		p.awaited -= n
		return nil, nil
	}
	return nil, fmt.Errorf("the consumer ended: %s %s", status, m.Header.Get("Description"))
}

// ackPrefix begins the reply subject of every message that a consumer sends.
const ackPrefix = "$JS.ACK."

// streamSeq reads a message's stream sequence off its reply subject:
// $JS.ACK.<stream>.<consumer>.<delivered>.<stream seq>..., or with domain and
// account before the stream.
func streamSeq(reply string) (uint64, error) {
	at := 5
	switch tokens := strings.Count(reply, ".") + 1; {
	case !strings.HasPrefix(reply, ackPrefix) || tokens < 9 || tokens == 10:
		return 0, fmt.Errorf("a message without its place in the stream: %q", reply)
	case tokens > 10:
		at = 7
	}
	for range at {
		_, reply, _ = strings.Cut(reply, ".")
	}
	n, _, _ := strings.Cut(reply, ".")
	return strconv.ParseUint(n, 10, 64)
}
