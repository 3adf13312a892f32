package main

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"google.golang.org/grpc"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/rpc"
)

var crashCycles = flag.Int("crash.cycles", 10, "how often the crash test kills the shop")

// TestKilledUnderLoad kills the whole program, again and again, while several
// terminals and probes tell facts. After each start every acknowledged fact is
// in the journal once, with the same bytes; the clocks run and end as the
// journal says they must; no permit has outlived its holder; and the proof
// finds nothing missing.
func TestKilledUnderLoad(t *testing.T) {
	if testing.Short() {
		t.Skip("kills processes for half a minute")
	}
	c := newCrash(t)
	c.start()
	c.furnish()
	crowd := newCrowd(t)
	for n := range *crashCycles {
		crowd.work(c.conn)
		c.load(n, crowd)
		c.kill()
		crowd.rest()
		c.verify()
		if n%3 == 2 {
			c.stillborn(n%2 == 0)
		}
		c.start()
		c.compare(crowd)
		c.noPermit()
		c.clocks()
		if t.Failed() {
			t.Fatalf("in cycle %d", n+1)
		}
	}
	if n := crowd.acknowledged(); n < 10**crashCycles {
		t.Errorf("only %d facts were acknowledged in %d cycles", n, *crashCycles)
	}
	if c.issued < *crashCycles/2 {
		t.Errorf("only %d permits were running when the shop was killed %d times", c.issued, *crashCycles)
	}
}

// crash is a shop's program that is killed and started again.
type crash struct {
	t        *testing.T
	bin, dir string
	cmd      *exec.Cmd
	conn     *grpc.ClientConn
	seen     []*floorv1.Entry // what earlier starts found in the journal
	told     int
	issued   int // permits that ran at a kill
}

func newCrash(t *testing.T) *crash {
	t.Helper()
	c := &crash{t: t, bin: filepath.Join(t.TempDir(), "shop-program"), dir: t.TempDir()}
	if out, err := exec.CommandContext(t.Context(), "go", "build", "-o", c.bin, ".").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	people, err := os.ReadFile(filepath.Join("..", "..", "testdata", "shop", "people.yaml"))
	if err == nil {
		err = os.WriteFile(filepath.Join(c.dir, "people.yaml"), people, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if c.cmd != nil {
			c.kill()
		}
	})
	return c
}

// start opens the shop and waits until it says that it is open.
func (c *crash) start() {
	c.t.Helper()
	begun := time.Now()
	c.cmd = exec.Command(c.bin, "up", "--json", "--dir", c.dir, "--grpc", "127.0.0.1:0", "--screens", "127.0.0.1:0")
	out, err := c.cmd.StdoutPipe()
	if err != nil {
		c.t.Fatal(err)
	}
	if err := c.cmd.Start(); err != nil {
		c.t.Fatal(err)
	}
	var at struct{ GRPC string }
	if err := json.NewDecoder(out).Decode(&at); err != nil {
		c.t.Fatalf("the shop did not open: %v", err)
	}
	if c.conn, err = rpc.Dial(at.GRPC); err != nil {
		c.t.Fatal(err)
	}
	c.entries()
	// 30 ms are usual; the limit leaves room for a machine that is busy.
	if took := time.Since(begun); took > 5*time.Second {
		c.t.Errorf("the shop took %s to be ready again", took)
	}
}

// stillborn starts the shop and kills it at once, or right as it opens.
func (c *crash) stillborn(atOnce bool) {
	c.t.Helper()
	cmd := exec.Command(c.bin, "up", "--json", "--dir", c.dir, "--grpc", "127.0.0.1:0", "--screens", "127.0.0.1:0")
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err == nil && !atOnce {
		_, err = out.Read(make([]byte, 1))
	}
	if err == nil {
		err = cmd.Process.Kill()
	}
	if err != nil {
		c.t.Fatal(err)
	}
	_ = cmd.Wait()
}

// kill ends the program as a power cut would.
func (c *crash) kill() {
	c.t.Helper()
	if err := c.cmd.Process.Kill(); err != nil {
		c.t.Fatal(err)
	}
	_ = c.cmd.Wait()
	c.cmd = nil
	if err := c.conn.Close(); err != nil {
		c.t.Fatal(err)
	}
}

// verify checks the stored journal against its proof.
func (c *crash) verify() {
	c.t.Helper()
	if out, err := exec.CommandContext(c.t.Context(), c.bin, "journal", "verify", "--dir", c.dir).CombinedOutput(); err != nil {
		c.t.Fatalf("verify: %v\n%s", err, out)
	}
}

// stamp is a live stamp of the test's own.
func (c *crash) stamp(actor string, role floorv1.Role, terminal string) *floorv1.Stamp {
	c.told++
	return &floorv1.Stamp{
		CommandId: fmt.Sprintf("shop-%06d", c.told), Actor: actor, Role: role, Terminal: terminal,
		Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
	}
}

// load asks for a permit while the crowd works, and lets it work on until a
// number of facts was acknowledged that differs from cycle to cycle.
func (c *crash) load(n int, crowd *crowd) {
	c.t.Helper()
	ctx, cancel := context.WithTimeout(c.t.Context(), 5*time.Second)
	defer cancel()
	r, err := boothv1.NewBoothServiceClient(c.conn).RequestPermit(ctx, &boothv1.RequestPermitRequest{
		Stamp: c.stamp("Sel Thrushgate", floorv1.Role_ROLE_PAINTER, "booth-screen"), BoothId: "booth-1", LoadId: "ready-A", Untouched: true,
	})
	if err != nil {
		c.t.Fatal(err)
	}
	switch {
	case r.GetPermit() != nil:
		c.issued++
	case n > 0: // the first time its clocks may still run
		c.t.Errorf("no permit: %v", r.GetReasons())
	}
	limit := time.NewTimer(20 * time.Second)
	defer limit.Stop()
	for range 30 + rand.New(rand.NewPCG(uint64(n), 7)).IntN(60) {
		select {
		case <-crowd.acks:
		case <-limit.C:
			c.t.Fatal("the shop acknowledges nothing any more")
		}
	}
}

// tell records a fact of the furnishing.
func tell[Req, Resp any](c *crash, record func(context.Context, Req, ...grpc.CallOption) (Resp, error), req Req) {
	c.t.Helper()
	if _, err := record(c.t.Context(), req); err != nil {
		c.t.Fatalf("%v: %v", req, err)
	}
}

type clients struct {
	jobs      jobsv1.JobsServiceClient
	materials materialsv1.MaterialsServiceClient
	cures     curesv1.CuresServiceClient
	booth     boothv1.BoothServiceClient
}

func clientsOf(conn *grpc.ClientConn) clients {
	return clients{
		jobsv1.NewJobsServiceClient(conn), materialsv1.NewMaterialsServiceClient(conn),
		curesv1.NewCuresServiceClient(conn), boothv1.NewBoothServiceClient(conn),
	}
}
