package tree

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"time"

	"seamwright/services/fault"
)

// acceptedName is the file beside the proof that says who accepted what: one
// object of JSON a line, only ever appended to.
const acceptedName = "accepted.jsonl"

// bound is what a head says of the acceptances that it was written after. It
// is over the file's first bytes, not over all of it, so that a note whose
// head a crash has kept from being written does no harm.
type bound struct {
	count   uint64            // acceptances
	bytes   uint64            // of the file
	sum     [sha256.Size]byte // over these
	at      int64             // of the last acceptance, seconds since 1970 in UTC
	records uint64            // which it was about
}

// any reports whether the head binds anything.
func (n bound) any() bool { return n.count > 0 }

func (n bound) encode(b []byte) []byte {
	for _, v := range []uint64{n.count, n.bytes, uint64(n.at), n.records} {
		b = binary.BigEndian.AppendUint64(b, v)
	}
	return append(b, n.sum[:]...)
}

func decodeBound(b []byte) bound {
	v := func(i int) uint64 { return binary.BigEndian.Uint64(b[8*i:]) }
	return bound{count: v(0), bytes: v(1), at: int64(v(2)), records: v(3), sum: [sha256.Size]byte(b[4*8:])}
}

// notes is the file of acceptances as it was read.
type notes struct {
	there bool // else there is no such file
	text  []byte
}

// readNotes reads it; none is no error.
func readNotes(dir string) (notes, error) {
	b, err := os.ReadFile(filepath.Join(dir, acceptedName))
	if errors.Is(err, fs.ErrNotExist) {
		return notes{}, nil
	}
	if err != nil {
		return notes{}, fileFault(err)
	}
	return notes{true, b}, nil
}

// parse gives the acceptances among lines, and how many of these could not be
// read. Those that a later one doubts are marked.
func parse(text []byte) (out []Acceptance, bad int) {
	n := 0
	at := map[int]int{} // by line: which acceptance stands there
	for line := range lines(text) {
		var a Acceptance
		if json.Unmarshal(line, &a) != nil {
			bad++
		} else {
			for k := max(0, n-a.Doubted); k < n; k++ {
				if i, ok := at[k]; ok {
					out[i].Unvouched = true
				}
			}
			at[n] = len(out)
			out = append(out, a)
		}
		n++
	}
	return out, bad
}

// lines are those that are not empty.
func lines(text []byte) iter.Seq[[]byte] {
	return func(yield func([]byte) bool) {
		for line := range bytes.Lines(text) {
			if line = bytes.TrimSpace(line); len(line) > 0 && !yield(line) {
				return
			}
		}
	}
}

// doubted counts the lines for which a head does not vouch.
func (n notes) doubted(b bound) (count int) {
	rest := n.text
	switch {
	case !b.any():
		return 0 // it is taken at its word
	case n.against(b) == "":
		rest = rest[b.bytes:]
	}
	for range lines(rest) {
		count++
	}
	return count
}

// all binds the whole file, and nothing where no acceptance stands in it.
func (n notes) all() bound {
	as, _ := parse(n.text)
	if len(as) == 0 {
		return bound{}
	}
	last := as[len(as)-1]
	return bound{
		count: uint64(len(as)), bytes: uint64(len(n.text)), sum: sha256.Sum256(n.text),
		at: last.At.Unix(), records: last.Records,
	}
}

// against says what is wrong with the file when a head binds it; else nothing.
func (n notes) against(b bound) string {
	switch has := uint64(len(n.text)); {
	case !b.any():
		return ""
	case !n.there:
		return "is gone"
	case has == 0:
		return "is empty"
	case has < b.bytes:
		return fmt.Sprintf("has lost its end: %d bytes of %d are left", has, b.bytes)
	case sha256.Sum256(n.text[:b.bytes]) != b.sum:
		return "was changed"
	}
	return ""
}

// judgeNotes compares the file of acceptances with what the head binds. A head
// that binds none was written before heads could, or before anybody accepted:
// then the file is taken at its word.
func (in *inspection) judgeNotes() {
	rep, b, known := &in.rep, in.head.bound, in.notes.text
	wrong := in.notes.against(b)
	if wrong == "" && b.any() {
		known = known[:b.bytes]
		if more := len(bytes.TrimSpace(in.notes.text[b.bytes:])); more > 0 {
			rep.note("The file of acceptances (%s) goes on by %d bytes that the head of the proof does not know: an acceptance that was broken off before it counted. It does not count.", acceptedName, more)
		}
	}
	var bad int
	rep.Accepted, bad = parse(known)
	if bad > 0 {
		rep.note("The file of acceptances (%s) has %d lines that cannot be read.", acceptedName, bad)
	}
	if wrong == "" {
		return
	}
	for i := range rep.Accepted {
		rep.Accepted[i].Unvouched = true
	}
	last := Acceptance{At: time.Unix(b.at, 0).UTC(), Records: b.records, Unnamed: true}
	rep.Troubles = append(rep.Troubles, Trouble{
		Kind: BadNotes, From: 1, To: b.records,
		Detail: fmt.Sprintf("%s; the head of the proof knows of %s, the last one at %s of %d records", wrong, counted(b.count, "acceptance"), last.moment(), b.records),
	})
	rep.Accepted = append(rep.Accepted, last)
}

func counted(n uint64, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// appendNote adds a line to the file of acceptances and syncs it. A line that
// an earlier crash has torn is ended first.
func appendNote(dir string, a Acceptance) error {
	line, err := json.Marshal(a)
	if err != nil {
		return fault.Wrap(err, fault.Internal, "acceptance", "")
	}
	old, err := readNotes(dir)
	if err != nil {
		return err
	}
	if t := old.text; len(t) > 0 && t[len(t)-1] != '\n' {
		line = append([]byte{'\n'}, line...)
	}
	f, err := os.OpenFile(filepath.Join(dir, acceptedName), os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o600)
	if err != nil {
		return fileFault(err)
	}
	_, err = f.Write(append(line, '\n'))
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		return fileFault(err)
	}
	return syncFolder(dir)
}
