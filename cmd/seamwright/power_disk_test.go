package main

import (
	"bytes"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
)

// disk is a disk with a volatile cache, as real ones have: what was written
// may be read at once, but is sure to outlive the power only when a flush has
// come after it. Which of the other writes survive is up to the disk.
type disk struct {
	mu     sync.Mutex
	seen   []byte // what is read: all that was written
	stable []byte // what a flush has made sure of
	loose  []write

	lies    bool // flushes are said to be done and are not
	left    int  // requests until the power goes; 0: it stays
	fate    fate
	image   []byte        // what is left, once it went
	gone    chan struct{} // closed when it went
	release chan struct{} // closed when what waits for the disk may go on
}

type write struct {
	at   int64
	data []byte
}

// sector is what a disk writes as a whole or not at all, in bytes.
const sector = 512

func newDisk(image []byte) *disk {
	return &disk{seen: slices.Clone(image), stable: image, gone: make(chan struct{}), release: make(chan struct{})}
}

func (d *disk) read(at int64, n int) []byte {
	d.mu.Lock()
	defer d.mu.Unlock()
	at = min(at, int64(len(d.seen)))
	return slices.Clone(d.seen[at:min(at+int64(n), int64(len(d.seen)))])
}

// write takes a write into the cache; false: it lies outside.
func (d *disk) write(at int64, data []byte) bool {
	d.request()
	d.mu.Lock()
	defer d.mu.Unlock()
	if at < 0 || at+int64(len(data)) > int64(len(d.seen)) {
		return false
	}
	copy(d.seen[at:], data)
	d.loose = append(d.loose, write{at, slices.Clone(data)})
	return true
}

// flush makes sure of all that was written.
func (d *disk) flush() {
	d.request()
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.lies {
		return
	}
	for _, w := range d.loose {
		copy(d.stable[w.at:], w.data)
	}
	d.loose = nil
}

// lie makes the disk say that it has flushed when it has not.
func (d *disk) lie() {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.lies = true
}

// request counts down to the moment at which the power goes. The request that
// meets it is not done, and waits until it does not matter any more.
func (d *disk) request() {
	d.mu.Lock()
	if d.left > 0 {
		if d.left--; d.left == 0 {
			d.powerOff()
		}
	}
	off := d.image != nil
	d.mu.Unlock()
	if off {
		<-d.release
	}
}

// cutAfter lets the power go at the n-th write or flush from now on.
func (d *disk) cutAfter(n int, f fate) <-chan struct{} {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.left, d.fate = n, f
	return d.gone
}

// cut lets the power go now.
func (d *disk) cut(f fate) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.image == nil {
		d.fate = f
		d.powerOff()
	}
}

// powerOff makes the image of what is left. The caller holds the lock.
func (d *disk) powerOff() {
	d.left, d.image = 0, slices.Clone(d.stable)
	d.fate.survive(d.image, d.loose)
	close(d.gone)
}

// fate says what becomes of the writes that no flush has made sure of.
type fate struct {
	kind string
	seed uint64
}

const (
	lost   = "lost"   // none survives
	kept   = "kept"   // all survive
	prefix = "prefix" // the first ones survive; the last of these may be torn
	mixed  = "mixed"  // any may survive, in any order, whole or torn
)

var fates = []string{lost, mixed, prefix, kept}

func (f fate) survive(image []byte, loose []write) {
	r := rand.New(rand.NewPCG(f.seed, uint64(len(loose))))
	switch f.kind {
	case kept:
		for _, w := range loose {
			copy(image[w.at:], w.data)
		}
	case prefix:
		n := r.IntN(len(loose) + 1)
		for i, w := range loose[:n] {
			if i == n-1 {
				w.data = w.data[:sector*r.IntN(len(w.data)/sector+1)]
			}
			copy(image[w.at:], w.data)
		}
	case mixed:
		for _, i := range r.Perm(len(loose)) {
			switch w := loose[i]; r.IntN(3) {
			case 0:
				copy(image[w.at:], w.data)
			case 1:
				for at := 0; at < len(w.data); at += sector {
					if r.IntN(2) == 0 {
						copy(image[w.at+int64(at):], w.data[at:min(at+sector, len(w.data))])
					}
				}
			}
		}
	}
}

// What survives on the disk is what its fate says, sector by sector.
func TestDiskLosesWhatWasNotFlushed(t *testing.T) {
	const size = 64 * sector
	for _, kind := range fates {
		for seed := range uint64(20) {
			d := newDisk(make([]byte, size))
			d.write(0, bytes.Repeat([]byte{1}, size))
			d.flush()
			for at := int64(0); at < size; at += 8 * sector {
				d.write(at, bytes.Repeat([]byte{2}, 8*sector))
			}
			d.cut(fate{kind, seed})
			n := 0
			for at := 0; at < size; at += sector {
				s := d.image[at : at+sector]
				if bytes.Count(s, s[:1]) != sector || s[0] == 0 {
					t.Fatalf("%s, seed %d: sector %d holds %v", kind, seed, at/sector, s)
				}
				if s[0] == 2 {
					n++
				}
			}
			if d.image[0] == 1 && kind == prefix && n > 0 || kind == lost && n > 0 || kind == kept && n < size/sector {
				t.Errorf("%s, seed %d: %d sectors of %d survive", kind, seed, n, size/sector)
			}
		}
	}
}
