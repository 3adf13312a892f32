package app_test

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/nats-io/nats.go"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/access"
	"seamwright/services/app"
	"seamwright/services/journal"
)

// TestTheBusIsAsTheDocumentSays runs a shop with people at work, a probe, a
// reader and the gate's beats, and listens to everything on its bus: each
// message belongs to one channel of the document and is as it says there, and
// every channel is used.
func TestTheBusIsAsTheDocumentSays(t *testing.T) {
	t.Parallel()
	d, dir := readChannels(t), t.TempDir()
	reader, pwReader := enrol(t, dir, access.BusUser{Kind: access.BusReader, Name: "wall"})
	probe, pwProbe := enrol(t, dir, probeUser("p1"))
	r := newReal(t)
	r.folder(dir)
	r.serve(app.Options{Dir: dir, Bus: "127.0.0.1:0", MQTT: "127.0.0.1:0"})
	defer r.close()
	heard := overhear(t, r.app)
	r.listen(r.app.Addr().Reader)

	wall := device(t, r.app, reader, pwReader)
	var mu sync.Mutex
	var topics []string
	if err := answered(wall.Subscribe("gate/shop/"+theBooth, 0, func(_ mqtt.Client, m mqtt.Message) {
		mu.Lock()
		defer mu.Unlock()
		topics = append(topics, m.Topic())
	})); err != nil {
		t.Fatal(err)
	}
	p := device(t, r.app, probe, pwProbe)
	const topic = "probe/shop/bay-1/p1"
	publish(t, p, topic, false, fmt.Sprintf(`{"time":%q,"temp_c":21.5,"rh_percent":47,"surface_c":20.5}`, time.Now().UTC().Format(time.RFC3339Nano)))
	publish(t, p, topic, false, "21.5")
	r.leave()
	if _, err := r.booth.Hear(t.Context(), &boothv1.HearRequest{Terminal: "bay-1-tablet"}); err != nil {
		t.Fatal(err)
	}
	r.tell(&boothv1.SprayStarted{BoothId: theBooth, LoadId: theLoad})
	r.tell(&jobsv1.BeadDisturbed{SeamId: theSeam, How: "a glove went through it"})
	r.tell(&curesv1.ZoneDefined{ZoneId: "tent", LimitLowC: 5, LimitHighC: 35, ProbeErrorC: 0.5, DriftCPerMin: 0.2, StaleAfter: zone("x").GetStaleAfter()})
	eventually(t, "all that is to be heard", func() bool {
		mu.Lock()
		defer mu.Unlock()
		return heard.subject("alive.shop.booth.") > 1 && heard.subject("gate.shop.") > 2 && heard.subject("heard.shop.") > 0 &&
			heard.subject("probe.shop.") == 2 && heard.subject("shop.shop.booth.") > 0 && heard.subject("shop.shop.seam.") > 0 && len(topics) > 1
	})

	mu.Lock()
	defer mu.Unlock()
	for _, at := range append(topics, topic) {
		if _, err := d.match("mqtt", at); err != nil {
			t.Error(err)
		}
	}
	for _, m := range heard.all() {
		if err := d.take(m.Subject, m.Header, m.Data); err != nil {
			t.Error(err)
		}
	}
	// The shop's past, as the journal holds it.
	if n := d.journal(t, r.app); n < 50 {
		t.Errorf("%d records, want the shop's past", n)
	}
	for name := range d.Channels {
		if d.used[name] == 0 {
			t.Errorf("channel %s of the document is not used", name)
		}
	}
}

// described checks that every record of a shop's journal is as the document
// of the bus says.
func described(t *testing.T, a *app.App) {
	t.Helper()
	if n := readChannels(t).journal(t, a); n == 0 {
		t.Error("the journal is empty")
	}
}

// journal takes every record of a shop's journal as it went over the bus.
func (d *channels) journal(t *testing.T, a *app.App) (n int) {
	t.Helper()
	err := a.Journal().Read(context.Background(), 1, journal.End, func(rec journal.Record) error {
		n++
		h := nats.Header{}
		rec.Source = journal.Source("shop")
		for k, v := range journal.Headers(rec) {
			h[k] = []string{v}
		}
		return d.take("shop.shop."+rec.Aggregate, h, rec.Payload)
	})
	if err != nil {
		t.Error(err)
	}
	return n
}

// take matches a message with its channel and checks it.
func (d *channels) take(subject string, header nats.Header, data []byte) error {
	name, err := d.match("nats", subject)
	if err != nil {
		return err
	}
	h := map[string]any{}
	for k, v := range header {
		if len(v) != 1 {
			return fmt.Errorf("%s: header %s stands %d times", subject, k, len(v))
		}
		h[k] = v[0]
	}
	if about, ok := strings.CutPrefix(subject, "shop.shop."); ok && h["ce-subject"] != about {
		return fmt.Errorf("%s: it is about %v", subject, h["ce-subject"])
	}
	return d.check(name, h, data)
}

// ears hear everything on a bus.
type ears struct {
	mu   sync.Mutex
	msgs []*nats.Msg
}

// overhear listens until the test ends. What begins with $ or _INBOX belongs
// to the protocols.
func overhear(t *testing.T, a *app.App) *ears {
	t.Helper()
	e := &ears{}
	if err := a.Overhear(func(m *nats.Msg) {
		e.mu.Lock()
		defer e.mu.Unlock()
		if !strings.HasPrefix(m.Subject, "$") && !strings.HasPrefix(m.Subject, "_INBOX.") {
			e.msgs = append(e.msgs, m)
		}
	}); err != nil {
		t.Fatal(err)
	}
	return e
}

func (e *ears) all() []*nats.Msg {
	e.mu.Lock()
	defer e.mu.Unlock()
	return slices.Clone(e.msgs)
}

// subject counts the messages whose subject begins so.
func (e *ears) subject(prefix string) (n int) {
	for _, m := range e.all() {
		if strings.HasPrefix(m.Subject, prefix) {
			n++
		}
	}
	return n
}
