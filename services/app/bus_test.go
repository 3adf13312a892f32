package app_test

import (
	"bytes"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/access"
	"seamwright/services/app"
	"seamwright/services/bus"
	"seamwright/services/floor"
)

// enrol lets somebody onto a folder's bus.
func enrol(t *testing.T, dir string, u access.BusUser) (user, password string) {
	t.Helper()
	pw, err := access.EnrolBus(app.BusFile(dir), u)
	if err != nil {
		t.Fatal(err)
	}
	return u.User(), pw
}

func probeUser(probe string) access.BusUser {
	return access.BusUser{Kind: access.BusProbe, Zone: "bay-1", Probe: probe}
}

// device connects a real MQTT client.
func device(t *testing.T, a *app.App, user, password string) mqtt.Client {
	t.Helper()
	o := mqtt.NewClientOptions().AddBroker("tcp://" + a.Addr().MQTT).SetClientID("t-" + strings.ReplaceAll(user, ".", "-")).SetUsername(user).SetPassword(password)
	o.SetProtocolVersion(4).SetAutoReconnect(false).SetConnectTimeout(10 * time.Second)
	c := mqtt.NewClient(o)
	if err := answered(c.Connect()); err != nil {
		t.Fatalf("%s: %v", user, err)
	}
	t.Cleanup(func() { c.Disconnect(0) })
	return c
}

func answered(tok mqtt.Token) error {
	if !tok.WaitTimeout(comes) {
		return errors.New("no answer over MQTT")
	}
	return tok.Error()
}

func publish(t *testing.T, c mqtt.Client, topic string, retained bool, payload string) {
	t.Helper()
	if err := answered(c.Publish(topic, 1, retained, payload)); err != nil {
		t.Fatal(err)
	}
}

// eventually waits for a condition.
func eventually(t *testing.T, what string, ok func() bool) {
	t.Helper()
	each := time.NewTicker(5 * time.Millisecond)
	defer each.Stop()
	late := time.After(comes)
	for !ok() {
		select {
		case <-each.C:
		case <-late:
			t.Fatalf("%s: not within %s", what, comes)
		}
	}
}

// ledger is a log that is read while it is written.
type ledger struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *ledger) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *ledger) has(parts ...string) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	for line := range strings.Lines(l.b.String()) {
		all := true
		for _, p := range parts {
			all = all && strings.Contains(line, p)
		}
		if all {
			return true
		}
	}
	return false
}

// A reader over MQTT hears what the gate's watchers see: numbered one by one,
// never kept for those who come later, and the judge makes the sign of it.
func TestTheGateOverMQTT(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	user, password := enrol(t, dir, access.BusUser{Kind: access.BusReader, Name: "wall"})
	r := newReal(t)
	r.folder(dir)
	r.serve(app.Options{Dir: dir, Bus: "127.0.0.1:0", MQTT: "127.0.0.1:0"})
	defer r.close()
	r.listen(r.app.Addr().Reader)
	c := device(t, r.app, user, password)
	var mu sync.Mutex
	judge, begun := bus.NewJudge(theBooth), time.Now()
	var beats []bus.Beat
	took := func(_ mqtt.Client, m mqtt.Message) {
		mu.Lock()
		defer mu.Unlock()
		judge.Take(m.Payload(), time.Since(begun))
		b, err := bus.DecodeBeat(m.Payload())
		if err != nil || m.Retained() {
			t.Errorf("%s: %v, retained %v", m.Payload(), err, m.Retained())
		}
		beats = append(beats, b)
	}
	sign := func() bus.Sign {
		mu.Lock()
		defer mu.Unlock()
		return judge.At(time.Since(begun)).Sign
	}
	if sign() != bus.Hold {
		t.Error("CLEAR before anything was heard")
	}
	if err := answered(c.Subscribe("gate/shop/"+theBooth, 0, took)); err != nil {
		t.Fatal(err)
	}
	r.leave()
	eventually(t, "CLEAR over MQTT", func() bool { return sign() == bus.Clear })
	r.tell(&boothv1.BoothFaulted{BoothId: theBooth, What: "the fan stands still"})
	eventually(t, "HOLD over MQTT", func() bool { return sign() == bus.Hold })
	eventually(t, "HOLD over NATS", func() bool { return r.verdict() == bus.Hold })
	eventually(t, "the permit told as taken back", func() bool {
		mu.Lock()
		defer mu.Unlock()
		return slices.Contains(namesOf(beats[len(beats)-1]), bus.HoldPermitLost)
	})
	mu.Lock()
	defer mu.Unlock()
	cleared := false
	for i, b := range beats {
		cleared = cleared || b.Sign == bus.Clear
		switch {
		case i > 0 && (b.Number != beats[i-1].Number+1 || b.Holder != beats[0].Holder || b.Sequence < beats[i-1].Sequence):
			t.Errorf("beat %+v after %+v", b, beats[i-1])
		case cleared && b.Sign == bus.Hold && (b.Load != theLoad || !slices.Contains(namesOf(b), floor.HoldBoothFault)):
			t.Errorf("a beat that holds after CLEAR: %+v", b) // before or after the permit is taken back
		}
	}
}

func namesOf(b bus.Beat) (out []string) {
	for _, r := range b.Reasons {
		out = append(out, r.Name)
	}
	return out
}

// airShop is a shop with one bay, on a bus.
func airShop(t *testing.T, dir string, log *ledger) (*app.App, curesv1.CuresServiceClient) {
	t.Helper()
	a, err := app.New(app.Options{Dir: dir, MQTT: "127.0.0.1:0", Log: slog.New(slog.NewTextHandler(log, nil))})
	if err != nil {
		t.Fatal(err)
	}
	if err := a.Start(t.Context()); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := a.Stop(); err != nil {
			t.Error(err)
		}
	})
	conn, err := a.Dial()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	return a, curesv1.NewCuresServiceClient(conn)
}

func defineBay(t *testing.T, c curesv1.CuresServiceClient) {
	t.Helper()
	_, err := c.Record(t.Context(), &curesv1.RecordRequest{Stamp: &floorv1.Stamp{
		CommandId: "define-bay-1", Actor: "Ansa Vellacorn", Role: floorv1.Role_ROLE_MACHINE, Terminal: "desk",
		Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
	}, Fact: &curesv1.RecordRequest_ZoneDefined{ZoneDefined: zone("bay-1")}})
	if err != nil {
		t.Fatal(err)
	}
}

func bay(t *testing.T, c curesv1.CuresServiceClient) *curesv1.Zone {
	t.Helper()
	r, err := c.ListZones(t.Context(), &curesv1.ListZonesRequest{})
	if err != nil || len(r.GetZones()) != 1 {
		t.Fatalf("%v, %v", r, err)
	}
	return r.GetZones()[0]
}

// Two probes of a bay that stand apart: the bay is at no one temperature, its
// set is the hull of theirs. By formats of the shop: probe error 0.5 K and
// dead band 0.2 K about each.
func TestTwoProbesOverMQTTAreTheHullOfTheirSets(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	one, pw1 := enrol(t, dir, probeUser("p1"))
	two, pw2 := enrol(t, dir, probeUser("p2"))
	a, c := airShop(t, dir, &ledger{})
	defineBay(t, c)
	d1, d2 := device(t, a, one, pw1), device(t, a, two, pw2)
	publish(t, d1, "probe/shop/bay-1/p1", false, "19.5\n")
	eventually(t, "one probe", func() bool { return bay(t, c).GetFresh() })
	if z := bay(t, c); z.LowC > 18.81 || z.LowC < 18.5 || z.HighC < 20.19 || z.HighC > 20.5 {
		t.Errorf("one probe at 19.5: from %g to %g °C, want 18.8 to 20.2 and a little drift", z.LowC, z.HighC)
	}
	publish(t, d2, "probe/shop/bay-1/p2", false, fmt.Sprintf(`{"time":%q,"temp_c":23.5,"rh_percent":48}`, time.Now().UTC().Format(time.RFC3339Nano)))
	eventually(t, "two probes", func() bool { return bay(t, c).GetRhPercent() == 48 })
	if z := bay(t, c); z.LowC > 18.81 || z.LowC < 18.5 || z.HighC < 24.19 || z.HighC > 24.5 {
		t.Errorf("probes at 19.5 and 23.5: from %g to %g °C, want 18.8 to 24.2 and a little drift", z.LowC, z.HighC)
	}
}

// What a probe may not do has no effect, what it says wrongly is told to the
// log, what it repeats takes effect once, and an old time makes nothing fresh.
func TestWhatProbesDoWrong(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	user, password := enrol(t, dir, probeUser("p1"))
	lost, pwLost := enrol(t, dir, access.BusUser{Kind: access.BusProbe, Zone: "bay-9", Probe: "p1"})
	var log ledger
	a, c := airShop(t, dir, &log)
	defineBay(t, c)
	d := device(t, a, user, password)
	const topic = "probe/shop/bay-1/p1"
	for _, other := range []string{"probe/shop/bay-1/p2", "probe/shop/bay-2/p1", "probe/other/bay-1/p1", "shop/shop/zone/bay-1", "gate/shop/booth-1"} {
		publish(t, d, other, false, "30")
	}
	publish(t, d, topic, false, "warm")
	eventually(t, "the log names the bad payload", func() bool { return log.has("probe=bay-1/p1", "count=1", "warm") })
	publish(t, device(t, a, lost, pwLost), "probe/shop/bay-9/p1", false, "21")
	eventually(t, "the log names the unknown zone", func() bool { return log.has("probe=bay-9/p1", "count=1", "bay-9") })

	hour := time.Now().UTC().Add(-time.Hour)
	reading := func(at time.Time, c float64) string {
		return fmt.Sprintf(`{"time":%q,"temp_c":%g}`, at.Format(time.RFC3339Nano), c)
	}
	for range 3 {
		publish(t, d, topic, true, reading(hour, 15)) // to be kept for who comes later
	}
	publish(t, d, topic, false, reading(hour.Add(time.Minute), 16))
	eventually(t, "two readings of an hour ago", func() bool { return a.Desk().Writer.Seq() >= 3 })
	if z := bay(t, c); z.GetFresh() || !z.GetRead().AsTime().Equal(hour.Add(time.Minute)) {
		t.Errorf("after readings of an hour ago: fresh %v, read %s", z.GetFresh(), z.GetRead().AsTime())
	}
	publish(t, d, topic, false, "21")
	eventually(t, "a fresh one", func() bool { return bay(t, c).GetFresh() })
	// What was denied came before, and would stand before it.
	if seq := a.Desk().Writer.Seq(); seq != 4 {
		t.Errorf("%d events, want the bay and three readings", seq)
	}

	// A start of the shop hears nothing of what was kept.
	d.Disconnect(0)
	if err := a.Stop(); err != nil {
		t.Fatal(err)
	}
	a, c = airShop(t, dir, &log)
	d = device(t, a, user, password)
	publish(t, d, topic, false, reading(hour, 15)) // sent again after all
	publish(t, d, topic, false, "24")
	eventually(t, "the newest", func() bool { return bay(t, c).GetTempC() == 24 })
	if seq := a.Desk().Writer.Seq(); seq != 5 {
		t.Errorf("%d events after the start, want one more", seq)
	}
}

// Users come and go while the shop runs.
func TestTheUsersFileIsLookedAtWhileTheShopRuns(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	var log ledger
	a, c := airShop(t, dir, &log)
	if !log.has("nobody gets in from outside", app.BusFile(dir)) {
		t.Error("the log does not say that nobody gets in")
	}
	defineBay(t, c)
	user, password := enrol(t, dir, probeUser("p1"))
	eventually(t, "the file is taken over", func() bool { return log.has("the bus has other users", "users=1") })
	d := device(t, a, user, password)
	publish(t, d, "probe/shop/bay-1/p1", false, "21")
	eventually(t, "a reading", func() bool { return bay(t, c).GetFresh() })
	if err := access.DismissBus(app.BusFile(dir), probeUser("p1")); err != nil {
		t.Fatal(err)
	}
	eventually(t, "who is gone is put out", func() bool { return !d.IsConnected() })
	if _, err := c.ListZones(t.Context(), &curesv1.ListZonesRequest{}); err != nil {
		t.Errorf("the shop itself: %v", err)
	}
}

// A reader outside hears as well why a permit is gone, before what holds the
// load that is next.
func TestABeatTellsThatAPermitWasTakenBack(t *testing.T) {
	at := time.Date(2026, 3, 2, 15, 47, 0, 0, time.UTC)
	b := app.BeatOf(&boothv1.Gate{
		BoothId: "booth-1", Beat: 7, Holder: "gate-a", Sign: boothv1.Sign_SIGN_HOLD, LoadId: "2198-A", Now: timestamppb.New(at), Sequence: 41,
		Lost:    &boothv1.LostPermit{PermitId: "P40", LoadId: "2207-A", At: timestamppb.New(at), Why: "bus-silent"},
		Reasons: []*boothv1.Reason{{Name: floor.HoldNotLaid, Subject: "seam/2198/dh", Text: "door hem is not laid"}},
	})
	if len(b.Reasons) != 2 || b.Reasons[0].Name != bus.HoldPermitLost || b.Reasons[0].Subject != "load/2207-A" ||
		b.Reasons[0].Text != "the permit for 2207-A was taken back at 15:47 (UTC): bus-silent" {
		t.Errorf("the beat gives %+v", b.Reasons)
	}
	if _, err := b.Encode(); err != nil {
		t.Error(err)
	}
}
