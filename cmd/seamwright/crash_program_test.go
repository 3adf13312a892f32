package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"google.golang.org/grpc"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/rpc"
)

const (
	// readyWithin is how soon a shop must be open again, from the start of
	// the process to its health service's word.
	readyWithin = 3 * time.Second

	// givesUp is when a start counts as hung. It is generous, since the
	// machine may be busy with other tests.
	givesUp = time.Minute
)

// crash is a shop's program whose life is cut short, and what is known of it.
type crash struct {
	t        *testing.T
	bin, dir string
	attr     *syscall.SysProcAttr // of its processes
	cmd      *exec.Cmd
	conn     *grpc.ClientConn
	said     string // file of what it said on standard error
	starts   []time.Duration
	ledger   *ledger
	commands int    // made by stamp
	issued   int    // permits that ran at an end
	looked   [2]int // beads that there were at the last two looks at the clocks
}

// build makes the program, with build tags if any.
func build(t *testing.T, tags ...string) string {
	t.Helper()
	bin := filepath.Join(t.TempDir(), "shop-program")
	cmd := exec.CommandContext(t.Context(), "go", "build", "-o", bin, "-tags", strings.Join(tags, ","), ".")
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	return bin
}

func newCrash(t *testing.T, bin, dir string) *crash {
	t.Helper()
	c := &crash{t: t, bin: bin, dir: dir, said: filepath.Join(t.TempDir(), "said"), ledger: newLedger(t)}
	t.Cleanup(func() {
		if t.Failed() {
			t.Logf("the shop said last:\n%s", c.lastWords())
		}
		if c.cmd != nil {
			c.kill()
		}
	})
	return c
}

// lastWords are the end of what the program said since its last start.
func (c *crash) lastWords() string {
	const most = 4000
	said, _ := os.ReadFile(c.said)
	return string(said[max(len(said), most)-most:])
}

// bring puts a file of the test shop into the shop's folder, on disk.
func (c *crash) bring(name string) {
	c.t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "testdata", "shop", name))
	if err != nil {
		c.t.Fatal(err)
	}
	f, err := os.OpenFile(filepath.Join(c.dir, name), os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		c.t.Fatal(err)
	}
	_, err = f.Write(b)
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		c.t.Fatal(err)
	}
}

// up is the program's process, not yet started.
func (c *crash) up() *exec.Cmd {
	cmd := exec.Command(c.bin, "up", "--json", "--dir", c.dir, "--grpc", "127.0.0.1:0", "--screens", "127.0.0.1:0")
	cmd.SysProcAttr = c.attr
	return cmd
}

// start opens the shop and waits until its health service says that it serves.
func (c *crash) start() {
	c.t.Helper()
	if err := c.tryStart(); err != nil {
		c.t.Fatalf("the shop did not open: %v", err)
	}
}

func (c *crash) tryStart() (err error) {
	begun := time.Now()
	cmd := c.up()
	said, err := os.Create(c.said)
	if err != nil {
		return err
	}
	defer said.Close()
	cmd.Stderr = said
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		return err
	}
	hung := time.AfterFunc(givesUp, func() { _ = cmd.Process.Kill() })
	defer hung.Stop()
	c.cmd = cmd
	var at struct{ GRPC string }
	if err = json.NewDecoder(out).Decode(&at); err == nil {
		c.conn, err = rpc.Dial(at.GRPC)
	}
	if err != nil {
		_ = cmd.Process.Kill()
		c.cmd = nil
		return fmt.Errorf("%w; it ended with %v", err, cmd.Wait())
	}
	c.until("the shop serves", func() error {
		r, err := healthpb.NewHealthClient(c.conn).Check(c.t.Context(), &healthpb.HealthCheckRequest{})
		if err == nil && r.GetStatus() != healthpb.HealthCheckResponse_SERVING {
			err = fmt.Errorf("health: %v", r.GetStatus())
		}
		return err
	})
	c.starts = append(c.starts, time.Since(begun))
	return nil
}

// readiness is how long the starts took, the median and the longest.
func (c *crash) readiness() (median, longest time.Duration) {
	s := slices.Sorted(slices.Values(c.starts))
	return s[len(s)/2].Round(time.Millisecond), s[len(s)-1].Round(time.Millisecond)
}

// stillborn starts the shop and kills it at once, as it opens, or at a moment
// between, when it reads its store and writes its proof.
func (c *crash) stillborn(n int) {
	c.t.Helper()
	cmd := c.up()
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		c.t.Fatal(err)
	}
	opens := make(chan error, 1)
	go func() {
		_, err := out.Read(make([]byte, 1))
		opens <- err
	}()
	moment := time.Duration(n*7%60) * time.Millisecond
	if n%5 == 0 {
		moment = givesUp
	}
	select {
	case err = <-opens:
		if err != nil {
			c.t.Errorf("the shop did not open: %v", err)
		}
	case <-time.After(moment): // the moment of a crash, not a wait for something
	}
	if err := cmd.Process.Kill(); err != nil {
		c.t.Fatal(err)
	}
	_ = cmd.Wait()
}

// kill ends the program as nothing else would: at once.
func (c *crash) kill() {
	c.t.Helper()
	cmd := c.cmd
	c.cmd = nil
	if err := cmd.Process.Kill(); err != nil {
		c.t.Fatal(err)
	}
	_ = cmd.Wait()
	if err := c.conn.Close(); err != nil {
		c.t.Fatal(err)
	}
}

// run runs another command of the program, which must succeed.
func (c *crash) run(input string, args ...string) {
	c.t.Helper()
	cmd := exec.CommandContext(c.t.Context(), c.bin, args...)
	cmd.SysProcAttr, cmd.Stdin = c.attr, strings.NewReader(input)
	if out, err := cmd.CombinedOutput(); err != nil {
		c.t.Fatalf("%v: %v\n%s", args, err, out)
	}
}

// verify checks the stored journal against its proof.
func (c *crash) verify() {
	c.t.Helper()
	c.run("", "journal", "verify", "--dir", c.dir)
}

// stamp is a live stamp of the test's own.
func (c *crash) stamp(actor string, role floorv1.Role, terminal string) *floorv1.Stamp {
	c.commands++
	return &floorv1.Stamp{
		CommandId: fmt.Sprintf("shop-%06d", c.commands), Actor: actor, Role: role, Terminal: terminal,
		Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
	}
}

// until waits for a condition, not longer than is fair.
func (c *crash) until(what string, ask func() error) {
	c.t.Helper()
	ctx, cancel := context.WithTimeout(c.t.Context(), givesUp)
	defer cancel()
	tick := time.NewTicker(25 * time.Millisecond)
	defer tick.Stop()
	for {
		err := ask()
		if err == nil {
			return
		}
		select {
		case <-tick.C:
		case <-ctx.Done():
			c.t.Fatalf("%s: %v", what, err)
		}
	}
}
