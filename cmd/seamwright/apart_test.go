package main_test

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	healthpb "google.golang.org/grpc/health/grpc_health_v1"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/app"
	"seamwright/services/rpc"
)

// TestServicesApart runs a shop as nine processes: a NATS server with the
// configuration that is delivered, and two of each service beside a board.
// They start before their server does, tell a day of work while each of them
// and the server is killed and started again, and must end where one process
// would have.
func TestServicesApart(t *testing.T) {
	if testing.Short() {
		t.Skip("runs and kills processes for half a minute")
	}
	s := newSpread(t)
	s.beforeTheServer()
	s.startServer()
	s.opened("board-1", "booth-1", "cures-1", "materials-1", "jobs-1")
	s.meet()
	s.furnish()
	for _, name := range []string{"jobs-2", "materials-2", "cures-2", "booth-2"} {
		s.start(name)
		s.opened(name)
	}
	crowd := newHands(s)
	s.gate()
	s.killEach(crowd, rand.New(rand.NewPCG(1, 7)))
	s.killServer(crowd)
	crowd.rest()
	s.board()
	s.alike()
	entries := s.entries()
	crowd.check(entries)
	s.sameAsOne(entries)
	s.proof(len(entries))
	s.stopAll()
}

// spread is a shop whose services run apart.
type spread struct {
	t        *testing.T
	dir      string
	bin, srv string // the program, the NATS server
	conf     string
	url      string
	screens  string
	jobsAt   string
	servers  []*exec.Cmd         // the NATS server, or three
	replicas int                 // 0: one server
	running  map[string]*process // "jobs-1"
	shop     *app.Found          // the test's own connection, as any client's
	told     int
}

// process is one "seamwright serve".
type process struct {
	*exec.Cmd
	open chan string // its gRPC address when it has opened
	grpc string
	log  string
}

func newSpread(t *testing.T) *spread {
	t.Helper()
	dir := t.TempDir()
	s := &spread{
		t: t, dir: dir, bin: filepath.Join(dir, "shop-program"), srv: filepath.Join(dir, "bus-server"), conf: filepath.Join(dir, "nats.conf"),
		running: map[string]*process{}, screens: freeAddress(t), jobsAt: freeAddress(t),
	}
	for out, from := range map[string]string{s.bin: ".", s.srv: "github.com/nats-io/nats-server/v2"} {
		if b, err := exec.CommandContext(t.Context(), "go", "build", "-o", out, from).CombinedOutput(); err != nil {
			t.Fatalf("%s: %v\n%s", from, err, b)
		}
	}
	s.configure()
	t.Cleanup(func() {
		for _, p := range s.running {
			end(p.Cmd, os.Kill)
		}
		for _, server := range s.servers {
			end(server, os.Kill)
		}
		if t.Failed() {
			s.logs()
		}
	})
	return s
}

// configure puts addresses and folder of the test into the configuration that
// is delivered.
func (s *spread) configure() {
	s.t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "deploy", "nats.conf"))
	if err != nil {
		s.t.Fatal(err)
	}
	listen, monitor, mqtt := freeAddress(s.t), freeAddress(s.t), freeAddress(s.t)
	conf := string(b)
	for _, r := range [][2]string{
		{"listen: 127.0.0.1:4222", "listen: " + listen},
		{"http: 127.0.0.1:8222", "http: " + monitor},
		{"127.0.0.1:1883", mqtt},
		{"/var/lib/nats/seamwright", filepath.Join(s.dir, "store")},
	} {
		if !strings.Contains(conf, r[0]) {
			s.t.Fatalf("deploy/nats.conf does not say %q any more", r[0])
		}
		conf = strings.Replace(conf, r[0], r[1], 1)
	}
	if err := os.WriteFile(s.conf, []byte(conf), 0o600); err != nil {
		s.t.Fatal(err)
	}
	s.url = "nats://service:of-the-test@" + listen
	s.t.Setenv("SEAMWRIGHT_NATS", s.url)
	s.t.Setenv("SEAMWRIGHT_SERVICE", "of-the-test")
	s.t.Setenv("SEAMWRIGHT_PROBE", "probe-of-the-test")
	s.t.Setenv("SEAMWRIGHT_READER", "reader-of-the-test")
	s.t.Setenv("MONITOR", "http://"+monitor)
}

func freeAddress(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

func end(c *exec.Cmd, how os.Signal) {
	_ = c.Process.Signal(how)
	_ = c.Wait()
}

// startServer starts the NATS server; who waits for it finds it.
func (s *spread) startServer() {
	s.t.Helper()
	server := exec.Command(s.srv, "-c", s.conf)
	if err := server.Start(); err != nil {
		s.t.Fatal(err)
	}
	s.servers = []*exec.Cmd{server}
}

// start starts one service, which opens when it can.
func (s *spread) start(name string) {
	s.t.Helper()
	service, _, _ := strings.Cut(name, "-")
	args := []string{"serve", service, "--json", "--people", filepath.Join("..", "..", "testdata", "shop", "people.yaml"), "--monitor", os.Getenv("MONITOR")}
	if s.replicas > 0 {
		args = append(args, "--replicas", fmt.Sprint(s.replicas))
	}
	switch name {
	case "jobs-1":
		args = append(args, "--proof", filepath.Join(s.dir, "proof"), "--grpc", s.jobsAt)
	case "board-1":
		args = append(args, "--screens", s.screens)
	}
	p := &process{Cmd: exec.Command(s.bin, args...), open: make(chan string, 1), log: filepath.Join(s.dir, name+".log")}
	log, err := os.OpenFile(p.log, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		s.t.Fatal(err)
	}
	defer log.Close()
	p.Stderr = log
	out, err := p.StdoutPipe()
	if err == nil {
		err = p.Start()
	}
	if err != nil {
		s.t.Fatal(err)
	}
	s.running[name] = p
	go func() {
		var at struct{ GRPC string }
		_ = json.NewDecoder(out).Decode(&at)
		p.open <- at.GRPC
	}()
}

// opened waits until services have opened.
func (s *spread) opened(names ...string) {
	s.t.Helper()
	limit := time.After(30 * time.Second)
	for _, name := range names {
		p := s.running[name]
		select {
		case p.grpc = <-p.open:
		case <-limit:
			s.t.Fatalf("%s has not opened within 30 s", name)
		}
		if p.grpc == "" {
			s.t.Fatalf("%s ended before it opened", name)
		}
	}
}

// kill ends a service as a power cut would.
func (s *spread) kill(name string) {
	s.t.Helper()
	end(s.running[name].Cmd, os.Kill)
	delete(s.running, name)
}

// stopAll stops every service as an operator would.
func (s *spread) stopAll() {
	s.t.Helper()
	for name, p := range s.running {
		end(p.Cmd, os.Interrupt)
		if code := p.ProcessState.ExitCode(); code != 0 {
			s.t.Errorf("%s ended with status %d", name, code)
		}
		delete(s.running, name)
	}
}

// logs shows the end of every service's log.
func (s *spread) logs() {
	files, _ := filepath.Glob(filepath.Join(s.dir, "*.log"))
	for _, f := range files {
		b, _ := os.ReadFile(f)
		s.t.Logf("%s:\n%s", filepath.Base(f), b[max(0, len(b)-3000):])
	}
}

// until asks until there is no error, for as long as a gate may take to
// decide again after a fault.
func (s *spread) until(what string, ask func() error) {
	s.t.Helper()
	ctx, cancel := context.WithTimeout(s.t.Context(), 30*time.Second)
	defer cancel()
	again := time.NewTicker(50 * time.Millisecond)
	defer again.Stop()
	for {
		err := ask()
		if err == nil {
			return
		}
		select {
		case <-again.C:
		case <-ctx.Done():
			s.t.Fatalf("%s: not within 30 s: %v", what, err)
		}
	}
}

// beforeTheServer starts services whose server is not there: they say that
// they do not serve, and wait.
func (s *spread) beforeTheServer() {
	s.t.Helper()
	for _, name := range []string{"board-1", "booth-1", "cures-1", "materials-1", "jobs-1"} {
		s.start(name)
	}
	s.serving(healthpb.HealthCheckResponse_NOT_SERVING)
	s.until("its log says what it waits for", func() error {
		b, err := os.ReadFile(s.running["jobs-1"].log)
		if err == nil && !strings.Contains(string(b), "waiting for the shop's journal") {
			err = fmt.Errorf("%s", b)
		}
		if strings.Contains(string(b), "of-the-test") {
			s.t.Fatalf("the log shows the password:\n%s", b)
		}
		return err
	})
}

// serving waits until the first jobs service says of itself whether it serves.
func (s *spread) serving(want healthpb.HealthCheckResponse_ServingStatus) {
	s.t.Helper()
	c, err := rpc.Dial(s.jobsAt)
	if err != nil {
		s.t.Fatal(err)
	}
	defer c.Close()
	s.until(fmt.Sprint("it says ", want), func() error {
		h, err := healthpb.NewHealthClient(c).Check(s.t.Context(), &healthpb.HealthCheckRequest{})
		if err == nil && h.GetStatus() != want {
			err = fmt.Errorf("it says %s", h.GetStatus())
		}
		return err
	})
}

// meet finds the shop as any client does.
func (s *spread) meet() {
	s.t.Helper()
	var err error
	if s.shop, err = app.Discover(s.t.Context(), s.url, "shop", nil); err != nil {
		s.t.Fatal(err)
	}
	s.t.Cleanup(func() { _ = s.shop.Close() })
}

// run runs a command of the program against the shop.
func (s *spread) run(args ...string) string {
	s.t.Helper()
	cmd := exec.CommandContext(s.t.Context(), s.bin, append(args, "--nats", s.url)...)
	b, err := cmd.CombinedOutput()
	if err != nil {
		s.t.Fatalf("%v: %v\n%s", args, err, b)
	}
	return string(b)
}

// stamp is a live stamp of the test's own.
func (s *spread) stamp(actor string, role floorv1.Role, terminal string) *floorv1.Stamp {
	s.told++
	return &floorv1.Stamp{
		CommandId: fmt.Sprintf("spread-%06d", s.told), Actor: actor, Role: role, Terminal: terminal,
		Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
	}
}

func (s *spread) state() (*boothv1.Gate, error) {
	r, err := boothv1.NewBoothServiceClient(s.shop).GetGate(s.t.Context(), &boothv1.GetGateRequest{BoothId: "quick-booth"})
	return r.GetGate(), err
}

// permit asks until the gate gives leave. It returns who gave it.
func (s *spread) permit() (id, holder string) {
	s.t.Helper()
	s.until("the gate gives leave", func() error {
		r, err := boothv1.NewBoothServiceClient(s.shop).RequestPermit(s.t.Context(), &boothv1.RequestPermitRequest{
			Stamp: s.stamp("Sel Thrushgate", floorv1.Role_ROLE_PAINTER, "booth-screen"), BoothId: "quick-booth", LoadId: "ready-A",
		})
		if err == nil && r.GetPermit() == nil {
			err = fmt.Errorf("held: %v", r.GetReasons())
		}
		id = r.GetPermit().GetPermitId()
		return err
	})
	s.until("the gate shows it", func() error {
		g, err := s.state()
		if err == nil && (g.GetSign() != boothv1.Sign_SIGN_CLEAR || g.GetPermit().GetPermitId() != id) {
			err = fmt.Errorf("%v", g)
		}
		holder = g.GetHolder()
		return err
	})
	return id, holder
}

// board asks that the wall shows the work.
func (s *spread) board() {
	s.t.Helper()
	s.until("the board shows the seams", func() error {
		for page, want := range map[string]string{"/board": "2207", "/booth/quick-booth": "ready-A"} {
			r, err := http.Get("http://" + s.screens + page)
			if err != nil {
				return err
			}
			b, err := io.ReadAll(r.Body)
			if cerr := r.Body.Close(); err != nil || cerr != nil || r.StatusCode != http.StatusOK || !strings.Contains(string(b), want) {
				return fmt.Errorf("%s: status %d, %v, no %q", page, r.StatusCode, err, want)
			}
		}
		return nil
	})
}
