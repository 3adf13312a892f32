//go:build linux

package main

import (
	"encoding/binary"
	"errors"
	"fmt"
	"syscall"
)

// A disk is given to the kernel as a file of its own file system: the file
// is the root of a FUSE mount (linux/fuse.h, protocol 7.31), and a loop device
// over it is a block device whose writes and flushes reach the disk one by one.

const (
	fuseGetattr   = 3
	fuseSetattr   = 4
	fuseOpen      = 14
	fuseRead      = 15
	fuseWrite     = 16
	fuseStatfs    = 17
	fuseRelease   = 18
	fuseFsync     = 20
	fuseFlush     = 25
	fuseInit      = 26
	fuseInterrupt = 36
	fuseDestroy   = 38
	fuseForget    = 2

	fuseHeader   = 40
	fuseDirectIO = 1       // in the answer to open: past the kernel's cache
	fuseMost     = 1 << 17 // bytes of one write
	fuseForever  = 3600    // seconds that the file's attributes hold
)

// attach mounts the disk as the file at path, and serves it until it is
// unmounted; done is closed then.
func (d *disk) attach(path string) (done chan struct{}, err error) {
	fd, err := syscall.Open("/dev/fuse", syscall.O_RDWR|syscall.O_CLOEXEC, 0)
	if err != nil {
		return nil, fmt.Errorf("/dev/fuse: %w", err)
	}
	options := fmt.Sprintf("fd=%d,rootmode=100600,user_id=0,group_id=0,allow_other", fd)
	if err := syscall.Mount("power-disk", path, "fuse", syscall.MS_NOSUID|syscall.MS_NODEV, options); err != nil {
		syscall.Close(fd)
		return nil, fmt.Errorf("mount of a FUSE file: %w", err)
	}
	done = make(chan struct{})
	go func() {
		defer close(done)
		defer syscall.Close(fd)
		d.serve(fd)
	}()
	return done, nil
}

// serve answers the kernel, one request at a time.
func (d *disk) serve(fd int) {
	b := make([]byte, fuseMost+4096)
	for {
		n, err := syscall.Read(fd, b)
		if errors.Is(err, syscall.EINTR) || errors.Is(err, syscall.ENOENT) { // a request was taken back
			continue
		}
		if err != nil || n < fuseHeader { // ENODEV: unmounted
			return
		}
		op, unique := binary.NativeEndian.Uint32(b[4:]), binary.NativeEndian.Uint64(b[8:])
		body, errno := d.answer(op, b[fuseHeader:n])
		if op == fuseForget || op == fuseInterrupt {
			continue
		}
		out := binary.NativeEndian.AppendUint32(nil, uint32(16+len(body)))
		out = binary.NativeEndian.AppendUint32(out, uint32(-int32(errno)))
		out = binary.NativeEndian.AppendUint64(out, unique)
		// An answer to nobody, of a process that was killed, is refused.
		_, _ = syscall.Write(fd, append(out, body...))
	}
}

func (d *disk) answer(op uint32, in []byte) ([]byte, syscall.Errno) {
	u32 := func(at int) uint32 { return binary.NativeEndian.Uint32(in[at:]) }
	offset := func() int64 { return int64(binary.NativeEndian.Uint64(in[8:])) }
	switch op {
	case fuseInit:
		return fields(7, 31, u32(8), 0, 0, fuseMost, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0), 0
	case fuseGetattr, fuseSetattr:
		return append(fields(fuseForever, 0, 0, 0), d.attributes()...), 0
	case fuseOpen:
		return fields(1, 0, fuseDirectIO, 0), 0
	case fuseRead:
		return d.read(offset(), int(u32(16))), 0
	case fuseWrite:
		n := int(u32(16))
		if !d.write(offset(), in[40:40+n]) {
			return nil, syscall.ENOSPC
		}
		return fields(uint32(n), 0), 0
	case fuseFsync:
		d.flush()
		return nil, 0
	case fuseFlush, fuseRelease, fuseDestroy, fuseForget, fuseInterrupt:
		return nil, 0
	case fuseStatfs:
		return make([]byte, 80), 0
	}
	return nil, syscall.ENOSYS
}

// attributes is the struct fuse_attr of the file.
func (d *disk) attributes() []byte {
	b := binary.NativeEndian.AppendUint64(nil, 1)
	b = binary.NativeEndian.AppendUint64(b, uint64(len(d.seen)))
	b = binary.NativeEndian.AppendUint64(b, uint64(len(d.seen)/sector))
	b = append(b, make([]byte, 3*8+3*4)...) // times
	return append(b, fields(syscall.S_IFREG|0o600, 1, 0, 0, 0, 4096, 0)...)
}

func fields(v ...uint32) (b []byte) {
	for _, x := range v {
		b = binary.NativeEndian.AppendUint32(b, x)
	}
	return b
}
