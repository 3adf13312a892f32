package natsd

import (
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"

	"seamwright/services/fault"
)

// lockName is the file in the store folder that one process at a time holds.
// It is never removed: a file that is removed while another process opens
// it would leave two with a lock.
const lockName = "in-use"

// lockFolder takes the folder for this process, or says who has it. The
// lock goes with the process, however it ends.
func lockFolder(dir string) (*os.File, error) {
	path := filepath.Join(dir, lockName)
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, fault.Wrap(err, fault.Unavailable, "store-folder", "make the folder writable for this user")
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		holder, _ := io.ReadAll(io.LimitReader(f, 32))
		f.Close()
		return nil, inUse(dir, strings.TrimSpace(string(holder)))
	}
	// The number only helps a person; the lock holds without it.
	if f.Truncate(0) == nil {
		_, _ = f.WriteAt([]byte(strconv.Itoa(os.Getpid())+"\n"), 0)
	}
	return f, nil
}

func inUse(dir, holder string) error {
	who := "another process"
	if holder != "" {
		who = "process " + holder
	}
	return fault.New(fault.Unavailable, "store-in-use",
		fmt.Sprintf("the journal folder %s is held by %s, one at a time may have it", dir, who),
		"stop that process, connect to it instead, or name another folder")
}

func unlockFolder(f *os.File) {
	_ = f.Truncate(0)
	_ = f.Close() // which gives the lock back
}

// tryPort finds out whether the port is free, since the server would not say.
func tryPort(host string, port int) error {
	if port < 0 || port > 65535 {
		return fault.Bad("port", port, "0 (any free one) to 65535")
	}
	addr := net.JoinHostPort(host, strconv.Itoa(port))
	l, err := net.Listen("tcp", addr)
	if err != nil {
		f := fault.Wrap(err, fault.Unavailable, "port-taken", "free it or name another one")
		f.Message = fmt.Sprintf("the journal's server cannot listen at %s: %v", addr, err)
		return f
	}
	return l.Close()
}
