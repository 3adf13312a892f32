package health

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"sync/atomic"
	"syscall"
	"time"

	"seamwright/services/fault"
)

// Names of what the disk tells.
const (
	DiskFull   = "disk-full"
	Unwritable = "journal-unwritable"
)

// MinFree is how many bytes must be free on the journal's disk: some months
// of a shop, and what the store writes beside while it rolls its files.
const MinFree = 64 << 20

// Disk is the check of the folder that the journal is written to.
type Disk struct {
	Dir     string // on the same disk as the store; made if it is not there
	MinFree uint64 // bytes; 0: MinFree
	n       uint64
	short   atomic.Bool
}

// Room refuses facts when, as it was looked last, less than a quarter of the
// least is free: what is left is kept for what a gate must record. A store
// that meets the end of its disk stays shut until it is started again, and one
// that met it with the first record of a file may not start by itself.
func (d *Disk) Room() error {
	if !d.short.Load() {
		return nil
	}
	return fault.New(fault.Unavailable, DiskFull,
		fmt.Sprintf("the disk of the journal is full: less than %d KiB are free, and they are kept for what the gate must record", d.least()/4>>10),
		"free some space, then tell it again")
}

// least is how many bytes must be free.
func (d *Disk) least() uint64 {
	if d.MinFree == 0 {
		return MinFree
	}
	return d.MinFree
}

// Check is the check, for a Monitor.
func (d *Disk) Check() Check {
	return Check{
		Name: Unwritable, What: "the disk of the journal", Hint: "look at the disk; a write that never ends is a disk that fails",
		Every: time.Second, Within: 4 * time.Second, Look: d.Look,
	}
}

// Look asks for the free space and writes a small file through to the disk,
// beside the store and not through it.
func (d *Disk) Look(context.Context) error {
	if err := d.free(); err != nil {
		return err
	}
	err := d.write()
	switch {
	case err == nil:
		return nil
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		return d.wrap(err, DiskFull, "free some space; nothing is recorded until then")
	}
	return d.wrap(err, Unwritable, "make the folder writable for this user and look at the disk")
}

func (d *Disk) free() error {
	if err := os.MkdirAll(d.Dir, 0o700); err != nil {
		if errors.Is(err, syscall.ENOSPC) {
			return d.wrap(err, DiskFull, "free some space; nothing is recorded until then")
		}
		return d.wrap(err, Unwritable, "make the folder writable for this user and look at the disk")
	}
	var s syscall.Statfs_t
	if err := syscall.Statfs(d.Dir, &s); err != nil {
		return d.wrap(err, Unwritable, "look at the disk")
	}
	least, free := d.least(), s.Bavail*uint64(s.Bsize)
	d.short.Store(free < least/4)
	if free < least {
		return fault.New(fault.Unavailable, DiskFull,
			fmt.Sprintf("%d MiB are free on the disk of the journal, the limit is %d MiB", free>>20, least>>20), "free some space")
	}
	return nil
}

// write writes a number that grows, so that no layer can leave the write out.
func (d *Disk) write() error {
	d.n++
	f, err := os.OpenFile(filepath.Join(d.Dir, "written"), os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	_, err = f.WriteString(strconv.FormatUint(d.n, 10) + "\n")
	return errors.Join(err, f.Sync(), f.Close())
}

func (d *Disk) wrap(err error, reason, hint string) error {
	f := fault.Wrap(err, fault.Unavailable, reason, hint)
	f.Message = fmt.Sprintf("a test file in %s could not be written: %v", d.Dir, err)
	return f
}
