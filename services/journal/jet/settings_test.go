package jet_test

import (
	"strings"
	"testing"
	"time"

	"github.com/nats-io/nats.go/jetstream"

	"seamwright/services/fault"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/journaltest"
)

// The settings are asked of the running server.
func TestStreamForgetsNothing(t *testing.T) {
	s := newShop(t, jet.Options{})
	j := s.open(t)
	if _, err := j.Append(t.Context(), 0, journaltest.Record(t, "a", 1)); err != nil {
		t.Fatal(err)
	}
	js, err := jetstream.New(s.connect(t))
	if err != nil {
		t.Fatal(err)
	}
	stream, err := js.Stream(t.Context(), s.stream())
	if err != nil {
		t.Fatal(err)
	}
	c := stream.CachedInfo().Config
	if c.Storage != jetstream.FileStorage || c.Retention != jetstream.LimitsPolicy || c.Discard != jetstream.DiscardNew ||
		c.MaxAge != 0 || c.MaxMsgs != -1 || c.MaxBytes != -1 || c.MaxMsgsPerSubject != -1 || !c.DenyDelete || !c.DenyPurge ||
		!c.AllowAtomicPublish || c.PersistMode != jetstream.DefaultPersistMode || c.Duplicates != 10*time.Minute {
		t.Errorf("settings %+v", c)
	}
	if err := stream.Purge(t.Context()); err == nil {
		t.Error("the stream can be purged over the bus")
	}
	if err := stream.DeleteMsg(t.Context(), 1); err == nil {
		t.Error("a record can be deleted over the bus")
	}
	if last, err := j.Last(t.Context()); last != 1 || err != nil {
		t.Errorf("last %d, %v", last, err)
	}
}

// A stream that somebody set up otherwise would not keep the promises.
func TestStreamWithOtherSettingsIsRefused(t *testing.T) {
	for name, alter := range map[string]func(*jetstream.StreamConfig){
		"persist mode":             func(c *jetstream.StreamConfig) { c.PersistMode = jetstream.AsyncPersistMode },
		"storage":                  func(c *jetstream.StreamConfig) { c.Storage = jetstream.MemoryStorage },
		"max age":                  func(c *jetstream.StreamConfig) { c.MaxAge = time.Hour },
		"max messages per subject": func(c *jetstream.StreamConfig) { c.MaxMsgsPerSubject = 1 },
		"deny purge":               func(c *jetstream.StreamConfig) { c.DenyPurge = false },
		"subjects":                 func(c *jetstream.StreamConfig) { c.Subjects = []string{"shop.demo.seam.>"} },
	} {
		t.Run(name, func(t *testing.T) {
			s := newShop(t, jet.Options{})
			nc := s.connect(t)
			js, err := jetstream.New(nc)
			if err != nil {
				t.Fatal(err)
			}
			c := jetstream.StreamConfig{
				Name: s.stream(), Subjects: []string{"shop.demo.>"}, Storage: jetstream.FileStorage,
				Discard: jetstream.DiscardNew, DenyDelete: true, DenyPurge: true, AllowAtomicPublish: true,
			}
			alter(&c)
			if c.PersistMode == jetstream.AsyncPersistMode {
				c.AllowAtomicPublish = false // the server does not take both
			}
			if _, err := js.CreateStream(t.Context(), c); err != nil {
				t.Fatal(err)
			}
			_, err = jet.Open(t.Context(), nc, s.opts)
			if !fault.Is(err, "stream-settings") || (c.PersistMode != jetstream.AsyncPersistMode && !strings.Contains(err.Error(), name)) {
				t.Errorf("open: %v", err)
			}
		})
	}
}

func TestBadShopNameIsRefused(t *testing.T) {
	s := newShop(t, jet.Options{})
	for _, shop := range []string{"", "a.b", "Shop", "a b", ">", "../x"} {
		if _, err := jet.Open(t.Context(), s.connect(t), jet.Options{Shop: shop}); fault.KindOf(err) != fault.Invalid {
			t.Errorf("shop %q: %v", shop, err)
		}
	}
}
