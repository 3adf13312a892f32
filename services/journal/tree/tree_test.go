package tree_test

import (
	"crypto/sha256"
	"encoding/hex"
	"testing"

	"golang.org/x/mod/sumdb/tlog"
	"pgregory.net/rapid"

	"seamwright/services/journal"
	"seamwright/services/journal/journaltest"
	"seamwright/services/journal/tree"
)

// The inputs and roots that implementations of RFC 6962 use to check each
// other (the certificate-transparency project's Merkle tree tests; the values
// are from memory, and a hash that was remembered wrong would not agree).
func TestRootsOfTheCommonVectors(t *testing.T) {
	var f tree.Frontier
	if got, want := f.Head().Root, sha256.Sum256(nil); got != tlog.Hash(want) {
		t.Errorf("empty tree: %x, want the hash of nothing", got[:])
	}
	for i, c := range []struct{ leaf, root string }{
		{"", "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d"},
		{"00", "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125"},
		{"10", "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77"},
		{"2021", "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7"},
		{"3031", "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4"},
		{"40414243", "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef"},
		{"5051525354555657", "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c"},
		{"606162636465666768696a6b6c6d6e6f", "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328"},
	} {
		leaf, err := hex.DecodeString(c.leaf)
		if err != nil {
			t.Fatal(err)
		}
		f.Push(tlog.RecordHash(leaf))
		if h := f.Head(); hex.EncodeToString(h.Root[:]) != c.root || h.Size != uint64(i+1) {
			t.Errorf("%d leaves: size %d root %x, want %s", i+1, h.Size, h.Root[:], c.root)
		}
	}
}

// The frontier against the library's own way to compute a root.
func TestFrontierAgreesWithTheLibrary(t *testing.T) {
	var f tree.Frontier
	var stored []tlog.Hash
	reader := tlog.HashReaderFunc(func(x []int64) ([]tlog.Hash, error) {
		out := make([]tlog.Hash, len(x))
		for i, at := range x {
			out[i] = stored[at]
		}
		return out, nil
	})
	for n := range int64(300) {
		leaf := tlog.RecordHash([]byte{byte(n), byte(n >> 8)})
		more, err := tlog.StoredHashesForRecordHash(n, leaf, reader)
		if err != nil {
			t.Fatal(err)
		}
		stored = append(stored, more...)
		f.Push(leaf)
		want, err := tlog.TreeHash(n+1, reader)
		if err != nil {
			t.Fatal(err)
		}
		if got := f.Head().Root; got != want {
			t.Fatalf("%d leaves: %v, want %v", n+1, got, want)
		}
	}
}

// No two records that differ in anything share a leaf.
func TestLeafDependsOnEverythingInARecord(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := journaltest.Record(t, rapid.StringMatching(`[a-zå%]{1,8}`).Draw(rt, "id"), rapid.IntRange(0, 99).Draw(rt, "n"))
		r.Source = "/shops/demo"
		o := r.Clone()
		switch rapid.IntRange(0, 6).Draw(rt, "what") {
		case 0:
			o.ID += "x"
		case 1:
			o.Source += "x"
		case 2:
			o.Type += "x"
		case 3:
			o.Aggregate += "x"
		case 4:
			o.Time = o.Time.Add(1)
		case 5:
			o.Attrs["actor"] += "x"
		case 6:
			o.Payload = append(o.Payload, 0)
		}
		if tree.Leaf(r) == tree.Leaf(o) {
			rt.Fatalf("%+v and %+v have one leaf", r, o)
		}
		o = r.Clone()
		o.Seq++
		if tree.Leaf(r) != tree.Leaf(o) {
			rt.Fatal("the number is in the leaf; its place is the leaf's")
		}
	})
}

// A leaf is the library's record hash of the canonical form, whatever the
// record's size.
func TestLeafIsTheRecordHash(t *testing.T) {
	for _, payload := range []int{0, 1, 55, 64, 700, 5000} {
		r := journaltest.Record(t, "r-1", 1)
		r.Source, r.Payload = "/shops/demo", make([]byte, payload)
		if tree.Leaf(r) != tlog.RecordHash(journal.Canonical(r)) {
			t.Errorf("with a payload of %d bytes the leaf is another", payload)
		}
	}
}
