package console

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/user"
	"path/filepath"
	"strconv"
	"syscall"

	"seamwright/services/fault"
)

// closed makes of an error about a folder that this user may not open a denied
// fault that names both and says whose folder it is. Another error stays as it
// is. Looking takes writing, too: a server reads the store, and it locks it.
func (q Verify) closed(err error) error {
	if !errors.Is(err, fs.ErrPermission) {
		return err
	}
	flag, dir := "--dir", q.Dir
	if q.NATS != "" {
		flag, dir = "--proof", q.Proof
	}
	at := dir
	if p, ok := errors.AsType[*fs.PathError](err); ok {
		at = p.Path
	}
	owner, at := ownerOf(at)
	me := os.Geteuid()
	hint := "run it as root"
	switch {
	case owner == me:
		hint = fmt.Sprintf("it is this user's own: make %s readable and writable for it with chmod -R u+rwX", quoted(at))
	case owner > 0:
		hint = fmt.Sprintf("run it as %s, to whom %s belongs, or as root", userName(owner), quoted(at))
	}
	return fault.Because(err, fault.Denied, "folder-closed",
		fmt.Sprintf("%s: %s: cannot be opened by user %s, who may not read and write what is in it (%v)", flag, show(dir), userName(me), cause(err)), hint)
}

// cause is the system's own error, without what to do.
func cause(err error) error {
	if p, ok := errors.AsType[*fs.PathError](err); ok {
		return p
	}
	return fs.ErrPermission
}

// ownerOf is the number of the user to whom a file belongs, or the nearest
// folder above it that can be looked at; -1 when none can.
func ownerOf(path string) (uid int, at string) {
	path = filepath.Clean(path)
	for {
		if i, err := os.Stat(path); err == nil {
			if s, ok := i.Sys().(*syscall.Stat_t); ok {
				return int(s.Uid), path
			}
		}
		up := filepath.Dir(path)
		if up == path {
			return -1, path
		}
		path = up
	}
}

// userName is a user's name, or the number where it has none.
func userName(uid int) string {
	if u, err := user.LookupId(strconv.Itoa(uid)); err == nil {
		return u.Username
	}
	return strconv.Itoa(uid)
}
