package app_test

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"syscall"
	"testing"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/app"
	"seamwright/services/floor"
)

// diskFull fills the disk of a shop's folder: first so that the journal can
// still take what the gate has to say, then to the last block.
func diskFull(t *testing.T, got *cells) {
	const fault, name = "disk full", floor.HoldDiskFull
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=64m"); err != nil {
		for _, f := range faces {
			got.note(fault, f, "not here: a disk to fill takes the right to mount one ("+err.Error()+")")
		}
		t.Logf("no disk to fill: %v", err)
		return
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, 0); err != nil {
			t.Error(err)
		}
	})
	r := newReal(t)
	r.folder(dir)
	o := app.Options{Dir: dir, Bus: "127.0.0.1:0", MinFree: 8 << 20}
	r.serve(o)
	r.listen(r.app.Addr().Reader)
	r.leave()
	since := r.beatCount()
	fill(t, filepath.Join(dir, "filler"), 6<<20)
	r.closes(fault, name, "disk is full.", since, got)
	r.until("it is told to the journal", func() bool { return r.revoked(name) })
	r.refused(fault, name, got)
	fill(t, filepath.Join(dir, "filler-too"), 0)
	ctx, stop := context.WithTimeout(t.Context(), 4*time.Second)
	defer stop()
	faulted := &boothv1.BoothFaulted{BoothId: theBooth, What: "the fan stands still"}
	var told uint64
	var err error
	for range 50 { // the last block of a file may take some
		var seq uint64
		if seq, err = r.triedIn(ctx, faulted, 0); err != nil {
			break
		}
		told = seq
	}
	t.Logf("facts on a full disk: up to event %d, then %v", told, err)
	since = r.beatCount()
	r.until("beats on a full disk", func() bool { return len(r.heard(since)) >= 2 })
	for _, b := range r.heard(since) {
		if b.GetSign() != boothv1.Sign_SIGN_HOLD {
			t.Errorf("on a full disk beat %d says %s", b.GetBeat(), b.GetSign())
		}
	}
	for _, f := range []string{"filler", "filler-too"} {
		if err := os.Remove(filepath.Join(dir, f)); err != nil {
			t.Fatal(err)
		}
	}
	// There is room again. The store may stay shut all the same, and as long as
	// nothing can be recorded the gate says so.
	ctx, stop = context.WithTimeout(t.Context(), 4*time.Second)
	defer stop()
	if _, again := r.triedIn(ctx, faulted, 0); again != nil {
		t.Logf("with room again: %v", again)
		since = r.beatCount()
		r.until("seven beats more", func() bool { return len(r.heard(since)) >= 7 })
		if g := r.gate(); !slices.Contains(reasonsOf(g.GetReasons()), floor.HoldUnwritable) {
			t.Errorf("nothing can be recorded, the gate holds by %v", reasonsOf(g.GetReasons()))
		}
	}
	r.close()
	since = r.beatCount()
	r.serve(o)
	defer r.close()
	r.listen(r.app.Addr().Reader)
	if told > 0 {
		r.tell(&boothv1.BoothReset{BoothId: theBooth, What: "it runs again"})
	}
	r.stays(fault, name, since)
}

// fill writes until no more than some bytes are left on the disk.
func fill(t *testing.T, path string, left uint64) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	block := make([]byte, 64<<10)
	for {
		var s syscall.Statfs_t
		if err := syscall.Statfs(path, &s); err != nil {
			t.Fatal(err)
		}
		if s.Bavail*uint64(s.Bsize) <= left {
			return
		}
		if _, err := f.Write(block); err != nil {
			return // full
		}
	}
}
