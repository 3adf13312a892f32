package console

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/rpc"
)

// A shop whose disk was full takes facts again once there is room, at the
// address that it had, without anybody starting it; what was acknowledged is
// there, and a fact that was told again and again counts once.
func TestAShopStartsAgainAfterAFullDisk(t *testing.T) {
	const before = 3
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=48m"); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("no disk to fill: %v", err)
		}
		t.Skipf("NOT RUN: a disk to fill takes the right to mount one: %v", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	r, w := io.Pipe()
	ended := make(chan error, 1)
	go func() {
		q := Up{Dir: dir, Shop: "demo", GRPC: "127.0.0.1:0", minFree: 4 << 20, Log: slog.New(slog.DiscardHandler)}
		err := q.Run(ctx, Out{W: w, JSON: true})
		w.CloseWithError(errors.Join(err, io.EOF))
		ended <- err
	}()
	t.Cleanup(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
		if err := syscall.Unmount(dir, 0); err != nil {
			t.Error(err)
		}
	})
	var said upAnswer
	if err := json.NewDecoder(r).Decode(&said); err != nil {
		t.Fatal(err)
	}
	c, err := rpc.Dial(said.GRPC)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	cures := curesv1.NewCuresServiceClient(c)
	tell := func(n int, within time.Duration) (uint64, error) {
		ctx, stop := context.WithTimeout(ctx, within)
		defer stop()
		a, err := cures.Record(ctx, &curesv1.RecordRequest{
			Stamp: &floorv1.Stamp{
				CommandId: fmt.Sprintf("on-a-full-disk-%d", n), Actor: said.Foreman, Role: floorv1.Role_ROLE_FOREMAN, Terminal: "office",
				Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_CLAIMED, Length: durationpb.New(0)},
			},
			Fact: &curesv1.RecordRequest_ZoneDefined{ZoneDefined: &curesv1.ZoneDefined{
				ZoneId: fmt.Sprintf("bay-%d", n), LimitLowC: 5, LimitHighC: 40, ProbeErrorC: 0.5, DriftCPerMin: 0.2, StaleAfter: durationpb.New(time.Hour),
			}},
		})
		return a.GetReceipt().GetSequence(), err
	}
	for n := range before {
		if _, err := tell(n, 10*time.Second); err != nil {
			t.Fatal(err)
		}
	}
	filler := filepath.Join(dir, "filler")
	fillUp(t, filler)
	var stored uint64
	n := before
	for ; err == nil; n++ { // the last block of a file may take some
		if n == 200 {
			t.Fatal("a full disk takes everything")
		}
		var seq uint64
		if seq, err = tell(n, 3*time.Second); err == nil {
			stored = seq
		}
	}
	t.Logf("%d facts on a full disk, up to event %d, then: %v", n-1-before, stored, err)
	if err := os.Remove(filler); err != nil {
		t.Fatal(err)
	}
	each, late := time.NewTicker(100*time.Millisecond), time.After(time.Minute)
	defer each.Stop()
	var seq uint64
	for seq, err = tell(n-1, 2*time.Second); err != nil; seq, err = tell(n-1, 2*time.Second) {
		select {
		case <-each.C:
		case <-late:
			t.Fatalf("with room again it still says: %v", err)
		}
	}
	if seq <= stored {
		t.Errorf("the fact that was not stored is event %d, the one before it was %d", seq, stored)
	}
	if same, err := tell(n-1, 10*time.Second); err != nil || same != seq {
		t.Errorf("told once more it is event %d and %v, want event %d", same, err, seq)
	}
	if n > 1 && stored > 0 {
		if same, err := tell(n-2, 10*time.Second); err != nil || same != stored {
			t.Errorf("the last one acknowledged is event %d and %v, want event %d", same, err, stored)
		}
	}
}

// fillUp writes to the last block of a disk.
func fillUp(t *testing.T, path string) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	block := make([]byte, 64<<10)
	for len(block) > 0 {
		if _, err := f.Write(block); err != nil {
			block = block[:len(block)/2]
		}
	}
}
