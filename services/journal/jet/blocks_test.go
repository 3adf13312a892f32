package jet_test

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/minio/highwayhash"
)

// The store's block files, as far as these tests damage them. A record is a
// 22-byte head (length, sequence, time, subject length), subject, headers,
// payload and an 8-byte HighwayHash keyed by the stream's and block's name:
// nats-server 2.15.2, server/filestore.go.
const (
	recordHead = 22
	recordHash = 8
)

// block is the file that holds the stream's first records.
func (s *shop) block() string { return filepath.Join(s.folder(), "msgs", "1.blk") }

// span finds where the record with that payload text stands in the block.
func (s *shop) span(t *testing.T, id string) (data []byte, from, to int) {
	t.Helper()
	data, err := os.ReadFile(s.block())
	if err != nil {
		t.Fatal(err)
	}
	for from = 0; from < len(data); from = to {
		to = from + int(uint32(data[from])|uint32(data[from+1])<<8|uint32(data[from+2])<<16|uint32(data[from+3]&0x7f)<<24)
		if bytes.Contains(data[from:to], []byte("ce-id: "+id+"\r\n")) || bytes.Contains(data[from:to], []byte("ce-id:"+id+"\r\n")) {
			return data, from, to
		}
	}
	t.Fatalf("no record %s in %s", id, s.block())
	return nil, 0, 0
}

// flip turns one bit of a record's payload, as a failing disk does.
func (s *shop) flip(t *testing.T, id string) {
	data, _, to := s.span(t, id)
	data[to-recordHash-1] ^= 1
	s.rewrite(t, data)
}

// forge changes a byte of a record's payload and sets the store's own
// checksum right, so that the store itself notices nothing.
func (s *shop) forge(t *testing.T, id string) {
	data, from, to := s.span(t, id)
	data[to-recordHash-1] ^= 1
	key := sha256.Sum256(fmt.Appendf(nil, "%s-%d", s.stream(), 1))
	h, err := highwayhash.NewDigest64(key[:])
	if err != nil {
		t.Fatal(err)
	}
	slen := int(data[from+20]) | int(data[from+21])<<8
	at := from + recordHead
	h.Write(data[from+4 : from+20])
	h.Write(data[at : at+slen])
	h.Write(data[at+slen+4 : to-recordHash]) // past the length of the headers
	copy(data[to-recordHash:to], h.Sum(nil))
	s.rewrite(t, data)
}

// truncate cuts the block before the record.
func (s *shop) truncate(t *testing.T, id string) {
	data, from, _ := s.span(t, id)
	s.rewrite(t, data[:from])
	s.dropIndex(t)
}

func (s *shop) rewrite(t *testing.T, data []byte) {
	t.Helper()
	if err := os.WriteFile(s.block(), data, 0o600); err != nil {
		t.Fatal(err)
	}
}

// dropIndex removes the store's summary of its blocks, as is lost with a
// power cut; the server then reads the blocks again.
func (s *shop) dropIndex(t *testing.T) {
	t.Helper()
	if err := os.Remove(filepath.Join(s.folder(), "msgs", "index.db")); err != nil && !os.IsNotExist(err) {
		t.Fatal(err)
	}
}
