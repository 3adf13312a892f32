package tree

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"

	"seamwright/services/fault"
)

// lockName is the file in a proof's folder that one process at a time holds.
// It is never removed: one that is removed while another process opens it
// would leave two with a lock.
const lockName = "in-use"

// Lock takes a proof's folder for this process, for a shop whose journal is
// on a server of its own; in a shop's own folder the store's lock does it. The
// lock goes with the process, however it ends. An unavailable fault says
// which process has the folder.
func Lock(dir string) (unlock func(), err error) {
	if err := makeFolder(dir); err != nil {
		return nil, err
	}
	f, err := os.OpenFile(filepath.Join(dir, lockName), os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, fault.Wrap(err, fault.Unavailable, "proof-folder", "make the folder writable for this user")
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		holder, _ := io.ReadAll(io.LimitReader(f, 32))
		f.Close()
		return nil, fault.New(fault.Unavailable, "proof-in-use",
			fmt.Sprintf("the proof in %s is kept by process %s, one at a time keeps it", dir, strings.TrimSpace(string(holder))),
			"leave it to that process, or stop it")
	}
	// The number only helps a person; the lock holds without it.
	if f.Truncate(0) == nil {
		_, _ = f.WriteAt([]byte(strconv.Itoa(os.Getpid())+"\n"), 0)
	}
	return func() { f.Close() }, nil // which gives the lock back
}
