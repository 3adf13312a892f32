package bench

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"seamwright/services/app"
	"seamwright/services/fault"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/natsd"
	"seamwright/services/journal/tree"
	"seamwright/services/past"
)

// shopName is the shop's name in the journals that are made up.
const shopName = "shop"

// history is the store in a shop's folder, without a shop that runs on it.
type history struct {
	dir     string
	server  *natsd.Server
	journal *jet.Journal
	close   func()
}

func openHistory(ctx context.Context, r *rig, dir string) (*history, error) {
	server, err := natsd.Start(natsd.Options{StoreDir: app.StoreFolder(dir), Name: shopName, Logger: r.log})
	if err != nil {
		return nil, err
	}
	conn, err := server.Connect("bench")
	if err != nil {
		server.Stop()
		return nil, err
	}
	h := &history{dir: dir, server: server, close: func() { conn.Close(); server.Stop() }}
	if h.journal, err = jet.Open(ctx, conn, jet.Options{Shop: shopName}); err != nil {
		h.close()
		return nil, err
	}
	return h, nil
}

// makeHistory fills a folder with the past of a shop: so many events, and
// their proof.
func makeHistory(ctx context.Context, r *rig, events int) (string, error) {
	dir := filepath.Join(r.dir, "old-shop")
	h, err := openHistory(ctx, r, dir)
	if err != nil {
		return dir, err
	}
	defer h.close()
	proof, _, err := tree.Open(ctx, h.journal, app.ProofFolder(dir))
	if err != nil {
		return dir, err
	}
	_, err = past.Fill(ctx, proof, 1, events)
	return dir, errors.Join(err, proof.Close())
}

// fold does what a shop does at its start: it reads the journal, compares it
// with its proof, decodes and folds it.
func (h *history) fold(ctx context.Context, events int) error {
	proof, _, f, err := app.Replay(ctx, h.journal, app.ProofFolder(h.dir))
	if err != nil {
		return err
	}
	if f.Seq() != uint64(events) {
		return fmt.Errorf("the floor stands at event %d, want %d", f.Seq(), events)
	}
	return proof.Healthy()
}

// replay: events per second from disk to the floor.
func replay(ctx context.Context, r *rig) ([]Figure, error) {
	events := pick(r, 100_000, 3000)
	dir, err := makeHistory(ctx, r, events)
	if err != nil {
		return nil, err
	}
	var rates []float64
	for range pick(r, 5, 1) {
		h, err := openHistory(ctx, r, dir)
		if err != nil {
			return nil, err
		}
		took, err := timed(func() error { return h.fold(ctx, events) })
		h.close()
		if err != nil {
			return nil, err
		}
		rates = append(rates, float64(events)/(took/1000))
	}
	f := Figure{Name: "replay", What: fmt.Sprintf("%s events read from disk, checked, decoded and folded", thousands(events)), Unit: "1/s", Ours: median(rates)}
	return []Figure{f.judged(f.Ours, " 1/s", atLeast(100_000))}, nil
}

// start: the program in a process of its own, from its start to its word that
// it can be used.
func start(ctx context.Context, r *rig) ([]Figure, error) {
	events := pick(r, 100_000, 3000)
	dir, err := makeHistory(ctx, r, events)
	if err != nil {
		return nil, err
	}
	var took []float64
	for range pick(r, 5, 1) {
		ms, err := r.startOnce(ctx, dir)
		if err != nil {
			return nil, err
		}
		took = append(took, ms/1000)
	}
	f := Figure{Name: "start", What: fmt.Sprintf("process start to ready with %s events on disk", thousands(events)), Unit: "s", Ours: median(took)}
	return []Figure{f.judged(f.Ours, " s", atMost(2))}, nil
}

// readyWithin is how long a start may take before it is given up.
const readyWithin = 2 * time.Minute

// startOnce starts the program upon a folder, waits until it says where it can
// be reached, and stops it.
func (r *rig) startOnce(ctx context.Context, dir string) (ms float64, err error) {
	ctx, cancel := context.WithTimeout(ctx, readyWithin)
	defer cancel()
	p := exec.CommandContext(ctx, r.Program, "up", "--dir", dir, "--shop", shopName, "--grpc", "127.0.0.1:0", "--screens", "127.0.0.1:0")
	p.Cancel = func() error { return p.Process.Signal(syscall.SIGKILL) }
	var says strings.Builder
	p.Stderr = &says
	out, err := p.StdoutPipe()
	if err != nil {
		return 0, err
	}
	ready := false
	ms, err = timed(func() error {
		if err := p.Start(); err != nil {
			return fault.Wrap(err, fault.Unavailable, "program", "see that the program's own file can be run")
		}
		for lines := bufio.NewScanner(out); !ready && lines.Scan(); {
			ready = strings.HasPrefix(lines.Text(), "gRPC")
		}
		return nil
	})
	if err != nil {
		return 0, err
	}
	if !ready {
		_ = p.Wait()
		return 0, fault.New(fault.Unavailable, "not-ready", "the program did not become ready: "+strings.TrimSpace(says.String()), "")
	}
	if err := p.Process.Signal(os.Interrupt); err != nil {
		return 0, err
	}
	_, _ = io.Copy(io.Discard, out) // so that it can end
	return ms, p.Wait()
}
