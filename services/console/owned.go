package console

import (
	"errors"
	"io/fs"
	"os"
	"syscall"

	"seamwright/services/fault"
)

// handBack gives what root has written into somebody else's folder to the
// folder's owner. A shop that a service manager starts runs as a user of its
// own, while its list of people is kept by whoever is root: without this the
// shop could not read the list at its next start. Nothing is done for anybody
// but root, and in a folder of root's. Of root's files those alone change
// owner that have no other name outside the folder.
func handBack(dir string) error {
	if os.Geteuid() != 0 {
		return nil
	}
	// Everything goes by way of the folder itself, which its owner may change
	// meanwhile: no link leads out of it.
	root, err := os.OpenRoot(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return notHanded(err)
	}
	defer root.Close()
	top, err := root.Stat(".")
	if err != nil {
		return notHanded(err)
	}
	owner, ok := top.Sys().(*syscall.Stat_t)
	if !ok || owner.Uid == 0 {
		return nil
	}
	err = fs.WalkDir(root.FS(), ".", func(path string, _ fs.DirEntry, err error) error {
		if errors.Is(err, fs.ErrNotExist) {
			return nil // a running shop puts files away
		}
		if err != nil {
			return err
		}
		i, err := root.Lstat(path)
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if err != nil {
			return err
		}
		s, ok := i.Sys().(*syscall.Stat_t)
		if !ok || s.Uid != 0 || !i.IsDir() && (!i.Mode().IsRegular() || s.Nlink > 1) {
			return nil
		}
		if err := root.Lchown(path, int(owner.Uid), int(owner.Gid)); !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		return nil
	})
	if err != nil {
		return notHanded(err)
	}
	return nil
}

func notHanded(err error) error {
	return fault.Wrap(err, fault.Unavailable, "not-handed-back", "give what is in the folder to the folder's owner with chown -R, or the shop cannot read it")
}
