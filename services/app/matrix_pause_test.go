package app_test

import (
	"bufio"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"seamwright/services/app"
	"seamwright/services/booth"
	"seamwright/services/bus"
	"seamwright/services/floor"
	"seamwright/services/rpc"
)

// childEnv makes the test's program a shop of its own over the folder that it
// names, until its input ends.
const childEnv = "SEAMWRIGHT_TEST_CHILD"

// child is the shop in a process of its own. It prints its addresses.
func child(dir string) error {
	a, err := app.New(app.Options{Dir: dir, GRPC: "127.0.0.1:0", Screens: "127.0.0.1:0", Bus: "127.0.0.1:0", Log: quiet()})
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(context.Background(), comes)
	defer cancel()
	if err := a.Start(ctx); err != nil {
		return err
	}
	if err := json.NewEncoder(os.Stdout).Encode(a.Addr()); err != nil {
		return err
	}
	_, _ = io.Copy(io.Discard, os.Stdin)
	return a.Stop()
}

// paused stops the process as a debugger, a hypervisor or a suspended machine
// does, and lets it run on.
func paused(t *testing.T, got *cells) {
	const fault, name = "process paused", floor.HoldGatePaused
	r := newReal(t)
	dir := t.TempDir()
	r.folder(dir)
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self)
	c.Env = append(os.Environ(), childEnv+"="+dir)
	in, err := c.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.Process.Kill() })
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	var at app.Addr
	if err := json.Unmarshal([]byte(line), &at); err != nil {
		t.Fatal(err)
	}
	conn, err := rpc.Dial(at.GRPC)
	if err != nil {
		t.Fatal(err)
	}
	r.meet(conn, &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}, "http://"+at.Screens)
	r.listen(at.Reader)
	r.leave()

	since := r.beatCount()
	if err := c.Process.Signal(syscall.SIGSTOP); err != nil {
		t.Fatal(err)
	}
	lives := r.page.lives()
	silence := time.Now()
	r.until("a reader takes the silence for HOLD", func() bool {
		if n := r.page.lives(); n != lives {
			lives, silence = n, time.Now()
		}
		return r.verdict() == bus.Hold && time.Since(silence) > booth.Silence
	})
	if err := c.Process.Signal(syscall.SIGCONT); err != nil {
		t.Fatal(err)
	}
	r.closes(fault, "", "", since, got) // the pause is told first, then what the service needs to speak again
	got.note(fault, screen, "silent, the page covers itself; then HOLD")
	got.note(fault, heartbeat, "silence is HOLD; then HOLD")
	first := r.beatCount()
	r.until("beats that hold", func() bool { return len(r.heard(first)) >= 3 })
	r.leave()
	got.note(fault, request, "while it stands still nobody answers; then leave for who asks")

	r.ends[len(r.ends)-1]() // the reader, before its bus goes
	r.ends = r.ends[:len(r.ends)-1]
	for _, end := range r.ends {
		end()
	}
	r.ends = nil
	if err := in.Close(); err != nil {
		t.Fatal(err)
	}
	if err := c.Wait(); err != nil {
		t.Errorf("the shop's process: %v", err)
	}
	r.serve(app.Options{Dir: dir})
	defer r.close()
	p := r.permits()
	n := slices.IndexFunc(p, func(s string) bool { return revokedFor(s, name) })
	if n < 1 || p[n-1] != "issued" || !slices.Contains(p[n+1:], "issued") {
		t.Errorf("%s: the journal holds %v, want a permit revoked for %s and one given after it", fault, p, name)
	}
}

// flagRun is what the test's -run says.
func flagRun() string { return flag.Lookup("test.run").Value.String() }

func splitPort(t *testing.T, addr string) (string, int) {
	t.Helper()
	host, port, err := net.SplitHostPort(addr)
	if err != nil {
		t.Fatal(err)
	}
	n, err := strconv.Atoi(strings.TrimSpace(port))
	if err != nil {
		t.Fatal(fmt.Errorf("port %q: %w", port, err))
	}
	return host, n
}
