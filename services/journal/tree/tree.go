// Package tree keeps the proof of a shop's journal: an RFC 6962 Merkle tree
// over its records from the first one on, in two files beside the store.
//
// Leaf n-1 is the hash of record n in canonical form (journal.Canonical:
// sorted headers of ours, then the payload), hashed as RFC 6962 section 2.1
// says by golang.org/x/mod/sumdb/tlog. The file "leaves" holds the leaf
// hashes, 32 bytes each, in order. The file "head" holds the tree's size and
// root with a checksum, in two slots that are written in turn, so that a torn
// write leaves the one before it readable.
//
// # Who writes it and when
//
// The process that hosts the store wraps its journal in a [Keeper]; each
// Append extends the files before it returns. What other processes
// append is read from the journal, at the next Append or by Run.
//
// # After a crash
//
// The first head, over nothing, is synced with its folder before any record
// is stored, so a store with records and no head is never a crash's work:
// [Verify] calls its records unproven, and [Open] opens it only when somebody
// has accepted it ([Accept]), of which a note stays in "accepted.jsonl".
//
// # The file of acceptances
//
// Every head that is written after an acceptance binds the file: it carries
// its length and the SHA-256 over it, and how many acceptances there are, when
// the last one was and of how many records. A file that is gone, shorter or
// other than that is a trouble ([BadNotes]). The records are proved all the
// same, so the journal opens, and when they were accepted last is still told,
// by the head. Accept writes the note first and then the head: a crash between
// the two leaves a note more than the head knows, which does not count, and
// nothing worse. Putting the file back or accepting anew ends the trouble.
//
// A head without acceptances to bind is written as it was before heads could
// bind. Such a head beside a file of acceptances takes the file at its word,
// and the next [Open] binds it. A program of before does not know a head that
// binds, and calls the records unproven.
//
// Neither file is synced on the way; the store is, and comes first. So after
// a killed process the files are as new as the store or one append older,
// and after a power cut either of them may be older still, or the file of
// leaves shorter than the head. That is legal as long as the store's own
// records give the head's root: the head is then a prefix of the journal,
// and Open extends the files. A store that has less than the head, or
// other bytes, is not: [Verify] names the records.
//
// # What it shows
//
// It finds what befalls a store: a record that went missing, a byte that
// changed, a tail that was lost. Someone who may write to the folder can
// write a new tree over a new store; against that, heads must be given away
// and compared, which is for whoever publishes them.
package tree

import (
	"crypto/sha256"

	"golang.org/x/mod/sumdb/tlog"

	"seamwright/services/journal"
)

// Head is the state of a tree: how many records and the root over them.
type Head struct {
	Size uint64
	Root tlog.Hash
}

// Leaf is the hash that stands for a record.
func Leaf(r journal.Record) tlog.Hash {
	var room [1024]byte
	h, _ := leaf(room[:0], r)
	return h
}

// leaf is Leaf in a buffer that is used again. It is the same as
// tlog.RecordHash(journal.Canonical(r)): SHA-256 over a zero byte and the data
// (RFC 6962 section 2.1), without that function's copies, since every record
// is hashed at every start.
func leaf(b []byte, r journal.Record) (tlog.Hash, []byte) {
	b = journal.AppendCanonical(append(b[:0], 0), r)
	return sha256.Sum256(b), b
}

// node is the same as tlog.NodeHash, without copies on the heap.
func node(left, right tlog.Hash) tlog.Hash {
	var b [1 + 2*tlog.HashSize]byte
	b[0] = 1
	copy(b[1:], left[:])
	copy(b[1+tlog.HashSize:], right[:])
	return sha256.Sum256(b[:])
}

// Frontier is the right edge of a growing tree: the roots of its complete
// subtrees, largest first. It is all that is needed to go on. The zero value
// is the empty tree.
type Frontier struct {
	size  uint64
	roots []tlog.Hash
}

// Push adds a leaf.
func (f *Frontier) Push(leaf tlog.Hash) {
	f.size++
	for n := f.size; n&1 == 0; n >>= 1 { // two subtrees of one size become one
		last := len(f.roots) - 1
		leaf = node(f.roots[last], leaf)
		f.roots = f.roots[:last]
	}
	f.roots = append(f.roots, leaf)
}

// Size is the number of leaves.
func (f *Frontier) Size() uint64 { return f.size }

// Head gives size and root; the root of the empty tree is the hash of
// nothing (RFC 6962 section 2.1).
func (f *Frontier) Head() Head {
	if f.size == 0 {
		return Head{Root: sha256.Sum256(nil)}
	}
	last := len(f.roots) - 1
	root := f.roots[last]
	for i := last - 1; i >= 0; i-- {
		root = node(f.roots[i], root)
	}
	return Head{Size: f.size, Root: root}
}

// headOf is the head over a list of leaves.
func headOf(leaves []tlog.Hash) Head {
	var f Frontier
	for _, l := range leaves {
		f.Push(l)
	}
	return f.Head()
}
