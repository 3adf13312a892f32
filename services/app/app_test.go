package app_test

import (
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"
	"google.golang.org/grpc"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/access"
	"seamwright/services/app"
	"seamwright/services/clock"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/rpc"
)

func TestMain(m *testing.M) {
	if dir := os.Getenv(childEnv); dir != "" {
		if err := child(dir); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	goleak.VerifyTestMain(m)
}

var monday = time.Date(2026, 3, 2, 7, 30, 0, 0, time.UTC)

func quiet() *slog.Logger { return slog.New(slog.NewTextHandler(io.Discard, nil)) }

// start opens a shop that is stopped when the test ends.
func start(t *testing.T, o app.Options) *app.App {
	t.Helper()
	o.Log = quiet()
	a, err := app.New(o)
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
	return a
}

func jobsOf(t *testing.T, dial func() (*grpc.ClientConn, error)) jobsv1.JobsServiceClient {
	t.Helper()
	c, err := dial()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return jobsv1.NewJobsServiceClient(c)
}

func opened(id, ro string) *jobsv1.RecordRequest {
	return &jobsv1.RecordRequest{
		Stamp: &floorv1.Stamp{
			CommandId: id, Actor: "Ansa Vellacorn", Role: floorv1.Role_ROLE_FOREMAN, Terminal: "desk",
			Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
		},
		Fact: &jobsv1.RecordRequest_JobOpened{JobOpened: &jobsv1.JobOpened{Ro: ro, Vehicle: "blue hatchback"}},
	}
}

func hash(a *app.App) (h string) {
	a.Desk().Writer.View(func(uint64) { h = a.Desk().Floor.Hash() })
	return h
}

// shopFolder is a folder with the people of the demonstration shop.
func shopFolder(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	b, err := os.ReadFile(filepath.Join("..", "..", "testdata", "shop", "people.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(app.PeopleFile(dir), b, 0o600); err != nil {
		t.Fatal(err)
	}
	return dir
}

func TestAShopOnDiskComesBackAsItWas(t *testing.T) {
	dir := shopFolder(t)
	opt := app.Options{Dir: dir, GRPC: "127.0.0.1:0", Bus: "127.0.0.1:0"}
	begun := time.Now()
	first := start(t, opt)
	if took := time.Since(begun); took > 2*time.Second {
		t.Errorf("the shop took %s to open, 2 s are allowed", took)
	}
	addr := first.Addr()
	if addr.GRPC == "" || !strings.HasPrefix(addr.Bus, "nats://127.0.0.1:") || addr.Screens != "" {
		t.Errorf("addresses %+v", addr)
	}
	c := jobsOf(t, func() (*grpc.ClientConn, error) { return rpc.Dial(addr.GRPC) })
	for i := range 3 {
		r, err := c.Record(t.Context(), opened(fmt.Sprintf("open-%04d", i), fmt.Sprint(2207+i)))
		if err != nil || r.Receipt.Sequence != uint64(i+1) {
			t.Fatalf("%v, %v", r, err)
		}
	}
	before := hash(first)
	if err := first.Stop(); err != nil {
		t.Fatal(err)
	}
	second := start(t, opt)
	if after := hash(second); after != before {
		t.Errorf("floor hash %s after the restart, %s before", after, before)
	}
	r, err := jobsOf(t, second.Dial).Record(t.Context(), opened("open-0001", "2208"))
	if err != nil || !r.Receipt.Repeated || r.Receipt.Sequence != 2 {
		t.Errorf("a command from before the restart: %v, %v", r, err)
	}
}

func TestOneFolderTakesOneProcess(t *testing.T) {
	dir := shopFolder(t)
	start(t, app.Options{Dir: dir})
	second, err := app.New(app.Options{Dir: dir, Log: quiet()})
	if err != nil {
		t.Fatal(err)
	}
	if err := second.Start(t.Context()); !fault.Is(err, "store-in-use") {
		t.Errorf("got %v, want store-in-use", err)
	}
}

func TestATakenPortIsNamedAndNothingIsLeftRunning(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	taken := l.Addr().String()
	for name, o := range map[string]app.Options{
		"grpc": {GRPC: taken}, "bus": {Dir: shopFolder(t), Bus: taken},
	} {
		o.Log = quiet()
		a, err := app.New(o)
		if err != nil {
			t.Fatal(err)
		}
		if err := a.Start(t.Context()); !fault.Is(err, "port-taken") || !strings.Contains(err.Error(), taken) {
			t.Errorf("%s: %v, want port-taken with %s", name, err, taken)
		}
	}
}

func TestAChangedRecordKeepsTheShopShut(t *testing.T) {
	dir := shopFolder(t)
	a := start(t, app.Options{Dir: dir})
	c := jobsOf(t, a.Dial)
	for i := range 5 {
		if _, err := c.Record(t.Context(), opened(fmt.Sprintf("open-%04d", i), fmt.Sprint(2207+i))); err != nil {
			t.Fatal(err)
		}
	}
	if err := a.Stop(); err != nil {
		t.Fatal(err)
	}
	if err := os.RemoveAll(filepath.Join(app.StoreFolder(dir), "jetstream")); err != nil {
		t.Fatal(err)
	}
	again, err := app.New(app.Options{Dir: dir, Log: quiet()})
	if err != nil {
		t.Fatal(err)
	}
	if err := again.Start(t.Context()); fault.KindOf(err) != fault.Corrupt {
		t.Errorf("a shop that lost its journal opened: %v", err)
	}
}

func TestOnlyAForemanSignsAsOne(t *testing.T) {
	a := start(t, app.Options{Dir: shopFolder(t)})
	c := jobsOf(t, a.Dial)
	req := opened("open-0001", "2207")
	req.Stamp.Actor = "Tamsin Orrable"
	if _, err := c.Record(t.Context(), req); !fault.Is(err, "not-a-foreman") {
		t.Errorf("a technician signed as a foreman: %v", err)
	}
	req.Stamp.Role = floorv1.Role_ROLE_TECHNICIAN
	if _, err := c.Record(t.Context(), req); err != nil {
		t.Errorf("the same fact in her own role: %v", err)
	}
}

func TestHealthFollowsTheShop(t *testing.T) {
	a := start(t, app.Options{})
	c, err := a.Dial()
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	r, err := healthpb.NewHealthClient(c).Check(t.Context(), &healthpb.HealthCheckRequest{})
	if err != nil || r.Status != healthpb.HealthCheckResponse_SERVING {
		t.Errorf("%v, %v", r, err)
	}
}

func TestTheScreensShowTheShop(t *testing.T) {
	a := start(t, app.Options{Screens: "127.0.0.1:0"})
	if _, err := jobsOf(t, a.Dial).Record(t.Context(), opened("open-0001", "2207")); err != nil {
		t.Fatal(err)
	}
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
	for path, want := range map[string]string{"/board": "2207", "/": "board"} {
		r, err := client.Get("http://" + a.Addr().Screens + path)
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(r.Body)
		if cerr := r.Body.Close(); err != nil || cerr != nil || r.StatusCode != http.StatusOK || !strings.Contains(string(b), want) {
			t.Errorf("%s: status %d, %v, %d bytes without %q", path, r.StatusCode, err, len(b), want)
		}
	}
	r, err := client.Get("http://" + a.Addr().Screens + "/booth/none")
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Body.Close(); err != nil || r.StatusCode != http.StatusNotFound {
		t.Errorf("an unknown booth: status %d, %v", r.StatusCode, err)
	}
}

// Open streams must not hold up the end.
func TestStopEndsOpenStreams(t *testing.T) {
	a := start(t, app.Options{Screens: "127.0.0.1:0"})
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
	r, err := client.Get("http://" + a.Addr().Screens + "/events?page=board&viewer=test")
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	begun := time.Now()
	if err := a.Stop(); err != nil {
		t.Error(err)
	}
	if took := time.Since(begun); took > 2*time.Second {
		t.Errorf("Stop took %s with an open stream", took)
	}
	if _, err := io.Copy(io.Discard, r.Body); err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Errorf("the stream ended with %v", err)
	}
}

func TestDrivenTimeMovesOnlyWhenMoved(t *testing.T) {
	d := clock.NewDriven(monday)
	a := start(t, app.Options{Clock: d})
	c := jobsOf(t, a.Dial)
	if err := a.AdvanceTo(t.Context(), monday.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	r, err := c.Record(t.Context(), opened("open-0001", "2207"))
	if err != nil || !r.Receipt.Occurred.AsTime().Equal(monday.Add(time.Hour)) {
		t.Errorf("recorded at %v, %v; want 08:30", r.GetReceipt().GetOccurred().AsTime(), err)
	}
	if err := a.AdvanceTo(t.Context(), monday); err == nil {
		t.Error("went back in time")
	}
	running := start(t, app.Options{})
	if err := running.AdvanceTo(t.Context(), time.Now().Add(time.Hour)); !fault.Is(err, "clock-runs") {
		t.Errorf("the machine's clock was moved: %v", err)
	}
}

func TestOptionsThatDoNotGoTogetherAreRefused(t *testing.T) {
	for name, o := range map[string]app.Options{
		"shop name":            {Shop: "Body Shop"},
		"bus without a folder": {Bus: "127.0.0.1:0"},
	} {
		if _, err := app.New(o); fault.KindOf(err) != fault.Invalid {
			t.Errorf("%s: %v, want an invalid fault", name, err)
		}
	}
}

func TestAShopWithoutPeopleHasNoForeman(t *testing.T) {
	a := start(t, app.Options{Dir: t.TempDir()})
	if a.People() == nil || len(a.People().People()) != 0 {
		t.Error("want an empty list of people")
	}
	if _, err := jobsOf(t, a.Dial).Record(t.Context(), opened("open-0001", "2207")); fault.KindOf(err) != fault.Denied {
		t.Errorf("got %v, want denied", err)
	}
	named, err := access.Parse("people.yaml", []byte("people: [{name: Ansa Vellacorn, role: foreman}]"))
	if err != nil {
		t.Fatal(err)
	}
	b := start(t, app.Options{People: named})
	if _, err := jobsOf(t, b.Dial).Record(t.Context(), opened("open-0001", "2207")); err != nil {
		t.Error(err)
	}
	if who, ok := b.People().Person("Ansa Vellacorn"); !ok || who.Role != floor.Foreman {
		t.Errorf("%v, %v", who, ok)
	}
}
