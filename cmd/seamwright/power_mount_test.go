//go:build linux

package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"syscall"
	"testing"
	"time"
)

// power is a shop's program whose folder lies in an ext4 file system on a disk
// that may lose its power.
//
// Mounts, disk and program live in a mount namespace of the test's own thread.
// However the test ends, they end with it: nothing is left behind.
type power struct {
	*crash
	disk   *disk
	image  []byte // of the disk that is to be mounted next
	file   string // where the disk is
	root   string // where its file system is
	served chan struct{}
}

const diskBytes = 160 << 20

// needsPower skips the test where no power can be cut, on the machine of a
// developer only.
func needsPower(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("cuts the power for half a minute")
	}
	missing := lacks()
	if missing == "" {
		return
	}
	if os.Getenv("CI") != "" && os.Getuid() == 0 {
		t.Fatalf("the power cut test cannot run here: %s", missing)
	}
	t.Skipf("SKIPPED: no power is cut here: %s", missing)
}

// newPower makes an empty disk.
func newPower(t *testing.T, bin string) *power {
	t.Helper()
	p := &power{file: filepath.Join(t.TempDir(), "disk"), root: t.TempDir()}
	p.crash = newCrash(t, bin, filepath.Join(p.root, "shop"))
	runtime.LockOSThread() // and never unlocked: the thread ends with the test
	err := syscall.Unshare(syscall.CLONE_NEWNS)
	if err == nil {
		err = syscall.Mount("", "/", "", syscall.MS_REC|syscall.MS_PRIVATE, "")
	}
	if err == nil {
		err = os.WriteFile(p.file, nil, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
	p.attr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
	p.image = emptyDisk(t)
	t.Cleanup(func() {
		if p.cmd != nil {
			p.end()
		}
		p.unmount()
	})
	return p
}

// lacks says what is missing to cut the power; empty: nothing.
func lacks() string {
	if os.Getuid() != 0 {
		return "it takes root to mount a disk"
	}
	for _, dev := range []string{"/dev/fuse", "/dev/loop-control"} {
		if _, err := os.Stat(dev); err != nil {
			return err.Error()
		}
	}
	for _, tool := range []string{"mkfs.ext4", "mount"} {
		if _, err := exec.LookPath(tool); err != nil {
			return err.Error()
		}
	}
	return ""
}

// emptyDisk is the image of an empty ext4 file system.
func emptyDisk(t *testing.T) []byte {
	t.Helper()
	path := filepath.Join(t.TempDir(), "image")
	err := os.WriteFile(path, nil, 0o600)
	if err == nil {
		err = os.Truncate(path, diskBytes)
	}
	if err != nil {
		t.Fatal(err)
	}
	mkfs := exec.CommandContext(t.Context(), "mkfs.ext4", "-q", "-F", "-J", "size=8", "-E", "lazy_itable_init=0,lazy_journal_init=0", path)
	if out, err := mkfs.CombinedOutput(); err != nil {
		t.Fatalf("mkfs.ext4: %v\n%s", err, out)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// manners are the ways in which the file system is mounted in turn: as is
// usual, and with all that hides a missing sync switched off.
var manners = []string{"loop", "loop,data=writeback,noauto_da_alloc,commit=1"}

// mount plugs the disk in with what is on it.
func (p *power) mount(manner string) {
	p.t.Helper()
	p.disk = newDisk(p.image)
	var err error
	if p.served, err = p.disk.attach(p.file); err != nil {
		p.t.Fatal(err)
	}
	out, err := exec.CommandContext(p.t.Context(), "mount", "-t", "ext4", "-o", manner, p.file, p.root).CombinedOutput()
	if err == nil {
		err = os.MkdirAll(p.dir, 0o700)
	}
	if err != nil {
		p.t.Fatalf("the file system cannot be mounted after the cut: %v\n%s", err, out)
	}
}

// unmount takes the disk out and waits until nobody has it any more.
func (p *power) unmount() {
	p.t.Helper()
	if p.disk == nil {
		return
	}
	p.disk = nil
	// The first fails when nothing was mounted.
	_ = syscall.Unmount(p.root, syscall.MNT_DETACH)
	if err := syscall.Unmount(p.file, syscall.MNT_DETACH); err != nil {
		p.t.Error(err)
	}
	select {
	case <-p.served:
	case <-time.After(givesUp):
		p.t.Fatal("the disk is still in use")
	}
}

// end kills the program and lets what waits for the disk go on.
func (p *power) end() {
	p.t.Helper()
	if err := p.cmd.Process.Kill(); err != nil {
		p.t.Fatal(err)
	}
	select {
	case <-p.disk.release:
	default:
		close(p.disk.release)
	}
	_ = p.cmd.Wait()
	p.cmd = nil
	if p.conn != nil {
		_ = p.conn.Close()
	}
}

// freeze stops the program at this moment, with all that it has under way.
func (p *power) freeze() {
	p.t.Helper()
	if err := p.cmd.Process.Signal(syscall.SIGSTOP); err != nil {
		p.t.Fatal(err)
	}
	var ws syscall.WaitStatus
	for {
		_, err := syscall.Wait4(p.cmd.Process.Pid, &ws, syscall.WUNTRACED, nil)
		if err == syscall.EINTR {
			continue
		}
		if err != nil || !ws.Stopped() {
			p.t.Fatal(fmt.Errorf("the program did not stop but ended: %v %v", err, ws))
		}
		return
	}
}
