package tree

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"golang.org/x/mod/sumdb/tlog"

	"seamwright/services/fault"
)

const (
	leavesName = "leaves"
	headName   = "head"
	headMagic  = "SWHEAD1\n"
	boundMagic = "SWHEAD2\n" // of a head that binds acceptances
	headSize   = len(headMagic) + 8 + tlog.HashSize
	boundSize  = 4*8 + sha256.Size // what a head that binds has besides
	checkSize  = 16                // of the checksum at its end
	slotEvery  = 512               // slots lie in sectors of their own
)

// slot is a head as it stands in the file.
type slot struct {
	Head
	bound bound
	at    int // which of the two it is
}

// encodeSlot writes a head: magic, size (big-endian), root, the first 16
// bytes of the SHA-256 over these. What binds acceptances stands before the
// checksum, under a magic of its own; without any the head is as it was before
// heads could bind.
func encodeSlot(h Head, n bound) []byte {
	magic := headMagic
	if n.any() {
		magic = boundMagic
	}
	b := append(make([]byte, 0, headSize+boundSize+checkSize), magic...)
	b = binary.BigEndian.AppendUint64(b, h.Size)
	b = append(b, h.Root[:]...)
	if n.any() {
		b = n.encode(b)
	}
	sum := sha256.Sum256(b)
	return append(b, sum[:checkSize]...)
}

// decodeSlot reads a head, or says that this is none.
func decodeSlot(b []byte) (s slot, ok bool) {
	if len(b) < headSize+checkSize {
		return slot{}, false
	}
	s.Head = Head{Size: binary.BigEndian.Uint64(b[len(headMagic):]), Root: tlog.Hash(b[len(headMagic)+8:])}
	if bytes.HasPrefix(b, []byte(boundMagic)) && len(b) >= headSize+boundSize+checkSize {
		s.bound = decodeBound(b[headSize:])
	}
	return s, bytes.HasPrefix(b, encodeSlot(s.Head, s.bound))
}

// readHead gives the newer of the two slots; of two over the same records, the
// one that binds acceptances. found is false when neither can be read.
func readHead(dir string) (h slot, found bool, err error) {
	b, err := os.ReadFile(filepath.Join(dir, headName))
	if errors.Is(err, fs.ErrNotExist) {
		return slot{}, false, nil
	}
	if err != nil {
		return slot{}, false, fileFault(err)
	}
	for i := range 2 {
		s, ok := decodeSlot(b[min(i*slotEvery, len(b)):])
		if ok && (!found || s.Size > h.Size || s.Size == h.Size && s.bound.any()) {
			h, found = s, true
			h.at = i
		}
	}
	return h, found, nil
}

// readLeaves gives the whole leaves of the file; a torn last one is left out.
func readLeaves(dir string) ([]tlog.Hash, error) {
	b, err := os.ReadFile(filepath.Join(dir, leavesName))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fileFault(err)
	}
	leaves := make([]tlog.Hash, len(b)/tlog.HashSize)
	for i := range leaves {
		leaves[i] = tlog.Hash(b[i*tlog.HashSize:])
	}
	return leaves, nil
}

// files are the two files, open for writing.
type files struct {
	leaves, head *os.File
	slot         int   // the slot to be written next
	bound        bound // what every head binds
}

// openFiles brings the files to the leaves given and opens them. have is
// what the file of leaves holds now; where it differs it is written anew,
// beside the old one, which then takes its place. next is the head over all
// leaves, and the slot for it.
func openFiles(dir string, have, leaves []tlog.Hash, next slot) (*files, error) {
	if len(have) > len(leaves) || !slices.Equal(have, leaves[:len(have)]) {
		if err := replace(dir, leavesName, concat(leaves)); err != nil {
			return nil, err
		}
		have = leaves
	}
	f := &files{slot: next.at, bound: next.bound}
	var err error
	if f.leaves, err = os.OpenFile(filepath.Join(dir, leavesName), os.O_RDWR|os.O_CREATE, 0o600); err != nil {
		return nil, fileFault(err)
	}
	if f.head, err = os.OpenFile(filepath.Join(dir, headName), os.O_RDWR|os.O_CREATE, 0o600); err != nil {
		f.leaves.Close()
		return nil, fileFault(err)
	}
	if err := f.append(uint64(len(have)), leaves[len(have):], next.Head); err != nil {
		f.close()
		return nil, err
	}
	err = f.sync()
	if err == nil {
		err = syncFolder(dir)
	}
	if err != nil {
		f.close()
		return nil, err
	}
	return f, nil
}

// replace writes a file of the folder anew, beside the old one, which it then
// takes the place of; both are on disk when it returns.
func replace(dir, name string, b []byte) error {
	path := filepath.Join(dir, name)
	f, err := os.OpenFile(path+".new", os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return fileFault(err)
	}
	_, err = f.Write(b)
	err = errors.Join(err, f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(path+".new", path)
	}
	if err != nil {
		return fileFault(err)
	}
	return syncFolder(dir)
}

// newHead is a whole file of the head, with the same head in both slots.
func newHead(h Head, n bound) []byte {
	one := encodeSlot(h, n)
	b := make([]byte, slotEvery, slotEvery+len(one))
	copy(b, one)
	return append(b, one...)
}

// makeFolder makes the folder of the proof, and sees it on disk.
func makeFolder(dir string) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return fileFault(err)
	}
	return syncFolder(filepath.Dir(dir))
}

// syncFolder puts a folder's list of names on disk: a synced file whose name
// is lost is lost.
func syncFolder(dir string) error {
	f, err := os.Open(dir)
	if err != nil {
		return fileFault(err)
	}
	if err := errors.Join(f.Sync(), f.Close()); err != nil {
		return fileFault(err)
	}
	return nil
}

func concat(leaves []tlog.Hash) []byte {
	b := make([]byte, 0, len(leaves)*tlog.HashSize)
	for _, l := range leaves {
		b = append(b, l[:]...)
	}
	return b
}

// append writes leaves behind the first `at` and then the head over all.
func (f *files) append(at uint64, leaves []tlog.Hash, h Head) error {
	if _, err := f.leaves.WriteAt(concat(leaves), int64(at)*tlog.HashSize); err != nil {
		return fileFault(err)
	}
	if _, err := f.head.WriteAt(encodeSlot(h, f.bound), int64(f.slot*slotEvery)); err != nil {
		return fileFault(err)
	}
	f.slot = 1 - f.slot
	return nil
}

// read gives the leaves from index from to below index to.
func (f *files) read(from, to int64) ([]tlog.Hash, error) {
	b := make([]byte, (to-from)*tlog.HashSize)
	if _, err := io.ReadFull(io.NewSectionReader(f.leaves, from*tlog.HashSize, int64(len(b))), b); err != nil {
		return nil, fileFault(err)
	}
	leaves := make([]tlog.Hash, to-from)
	for i := range leaves {
		leaves[i] = tlog.Hash(b[i*tlog.HashSize:])
	}
	return leaves, nil
}

func (f *files) sync() error {
	if err := errors.Join(f.leaves.Sync(), f.head.Sync()); err != nil {
		return fileFault(err)
	}
	return nil
}

func (f *files) close() error { return errors.Join(f.leaves.Close(), f.head.Close()) }

func fileFault(err error) error {
	return fault.Wrap(err, fault.Unavailable, "proof-files", "make the folder of the journal's proof readable and writable, and the disk not full")
}

// gone names a file that does not stand where it was opened any more.
func (f *files) gone() string {
	for _, open := range []*os.File{f.leaves, f.head} {
		is, err := open.Stat()
		if err != nil {
			continue // not for a file that is gone
		}
		if at, err := os.Stat(open.Name()); errors.Is(err, os.ErrNotExist) || err == nil && !os.SameFile(is, at) {
			return open.Name()
		}
	}
	return ""
}
