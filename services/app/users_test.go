package app_test

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/nats-io/nats.go/jetstream"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	"seamwright/services/access"
	"seamwright/services/app"
	"seamwright/services/journal"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/natsd"
)

// as puts a user into a bus's URL.
func as(url, user, password string) string {
	return strings.Replace(url, "nats://", "nats://"+user+":"+password+"@", 1)
}

// Another process of the shop may do with the journal what a process of the
// shop does, and cannot take anything out of it.
func TestAServiceOnTheBusCannotTakeTheJournalAway(t *testing.T) {
	t.Parallel()
	dir := shopFolder(t)
	user, password := enrol(t, dir, access.BusUser{Kind: access.BusService, Name: "cures"})
	a := start(t, app.Options{Dir: dir, Bus: "127.0.0.1:0"})
	if _, err := jobsOf(t, a.Dial).Record(t.Context(), opened("open-0001", "2207")); err != nil {
		t.Fatal(err)
	}
	nc, err := natsd.Dial(as(a.Addr().Bus, user, password), "test", quiet())
	if err != nil {
		t.Fatal(err)
	}
	defer nc.Close()
	j, err := jet.Open(t.Context(), nc, jet.Options{Shop: "shop"})
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	if err := j.Read(t.Context(), 1, journal.End, func(journal.Record) error { n++; return nil }); err != nil || n != 1 {
		t.Errorf("%d records, %v, want 1", n, err)
	}
	js, err := jetstream.New(nc)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Second) // a denied request is never answered
	defer cancel()
	s, err := js.Stream(t.Context(), jet.StreamName("shop"))
	if err != nil {
		t.Fatal(err)
	}
	for what, err := range map[string]error{
		"delete the stream": js.DeleteStream(ctx, jet.StreamName("shop")),
		"purge it":          s.Purge(ctx),
		"delete a record":   s.DeleteMsg(ctx, 1),
	} {
		if err == nil {
			t.Errorf("a service may %s", what)
		}
	}
	if last, err := j.Last(t.Context()); err != nil || last != 1 {
		t.Errorf("the journal stands at %d, %v", last, err)
	}
}

// Two services of the cures on one bus: each message of a probe is taken by
// one of them, and both see what came of it.
func TestTwoServicesOfTheCuresTakeEachReadingOnce(t *testing.T) {
	t.Parallel()
	const probes = 8
	dir := t.TempDir()
	service, password := enrol(t, dir, access.BusUser{Kind: access.BusService, Name: "cures"})
	r := newReal(t)
	r.folder(dir)
	r.probes.Store(false)
	var users, passwords [probes]string
	for n := range probes {
		users[n], passwords[n] = enrol(t, dir, probeUser(fmt.Sprint("p", n)))
	}
	a := start(t, app.Options{Dir: dir, Bus: "127.0.0.1:0", MQTT: "127.0.0.1:0", GRPC: "127.0.0.1:0"})
	b := start(t, app.Options{GRPC: "127.0.0.1:0", Apart: &app.Apart{NATS: as(a.Addr().Bus, service, password), Services: []string{"cures"}}})
	// A bare number gets an id of its own each time that it is taken, so one
	// that is taken twice shows. The readings are 12 s and 1 K apart, so none
	// stands for another.
	before, now := a.Desk().Writer.Seq(), time.Now().UTC()
	for n := range probes {
		d := device(t, a, users[n], passwords[n])
		topic := fmt.Sprintf("probe/shop/bay-1/p%d", n)
		for k := range 3 {
			publish(t, d, topic, false, fmt.Sprintf(`{"time":%q,"temp_c":%d}`, now.Add(-time.Duration(60-12*k)*time.Second).Format(time.RFC3339Nano), 18+k))
		}
		publish(t, d, topic, false, "22")
	}
	taken := func() (n int, ids map[string]bool) {
		ids = map[string]bool{}
		if err := a.Journal().Read(t.Context(), before+1, journal.End, func(rec journal.Record) error {
			if rec.Type == string((&curesv1.ReadingTaken{}).ProtoReflect().Descriptor().FullName()) {
				n++
				ids[rec.ID] = true
			}
			return nil
		}); err != nil {
			t.Fatal(err)
		}
		return n, ids
	}
	eventually(t, "all readings", func() bool { n, _ := taken(); return n >= 4*probes })
	if n, ids := taken(); n != 4*probes || len(ids) != n {
		t.Errorf("%d readings with %d ids, want %d", n, len(ids), 4*probes)
	}
	eventually(t, "both have seen all", func() bool { return b.Desk().Writer.Seq() == a.Desk().Writer.Seq() && hash(a) == hash(b) })
}

// Bus and MQTT beside it, used, leave the journal as it is: it verifies, and
// the next start finds it sound.
func TestTheBusDoesNotDisturbTheJournal(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	user, password := enrol(t, dir, probeUser("p1"))
	a, c := airShop(t, dir, &ledger{})
	defineBay(t, c)
	d := device(t, a, user, password)
	publish(t, d, "probe/shop/bay-1/p1", true, "21")
	eventually(t, "a reading", func() bool { return bay(t, c).GetFresh() })
	before := hash(a)
	if err := a.Inspect().VerifyJournal(t.Context()); err != nil {
		t.Error(err)
	}
	d.Disconnect(0)
	if err := a.Stop(); err != nil {
		t.Fatal(err)
	}
	b := start(t, app.Options{Dir: dir})
	if after := hash(b); after != before {
		t.Errorf("floor hash %s after the start, %s before", after, before)
	}
	if err := b.Inspect().VerifyJournal(t.Context()); err != nil {
		t.Error(err)
	}
}
