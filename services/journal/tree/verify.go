package tree

import (
	"cmp"
	"context"
	"errors"
	"slices"

	"golang.org/x/mod/sumdb/tlog"

	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/journal"
)

// Verify reads the whole journal and compares it with the proof in the
// folder. It changes nothing. What is wrong stands in the report; an error
// means that the journal or the files could not be read for other reasons.
func Verify(ctx context.Context, j journal.Journal, dir string) (Report, error) {
	in, err := inspect(ctx, j, dir, nil)
	if err != nil {
		return Report{}, err
	}
	return in.rep, nil
}

// Each is handed every record that is read, in order, with its event or the
// error of its decoding, while the proof is still being checked. What it
// makes of them is worth something only when the report shows no trouble.
type Each func(r journal.Record, e floor.Event, err error)

// inspection is a verification under way and what it leaves for Open.
type inspection struct {
	rep      Report
	each     Each        // may be nil
	head     slot        // as it was read
	hasHead  bool        // a head was read
	notes    notes       // the file of acceptances
	file     []tlog.Hash // the file of leaves
	store    []tlog.Hash // leaves of the journal's records; of a lost one, what the file has
	edge     Frontier    // over store, once judged
	differ   []Trouble   // records whose leaf is not the file's
	unread   uint64      // how many records are lost or unreadable
	unproven []uint64    // records lost or unreadable, of which the file has no leaf either
}

func inspect(ctx context.Context, j journal.Journal, dir string, each Each) (*inspection, error) {
	in := &inspection{each: each}
	var err error
	if in.head, in.hasHead, err = readHead(dir); err != nil {
		return nil, err
	}
	in.rep.Head = in.head.Head
	if in.file, err = readLeaves(dir); err != nil {
		return nil, err
	}
	if in.notes, err = readNotes(dir); err != nil {
		return nil, err
	}
	if in.rep.Stored, err = j.Last(ctx); err != nil {
		return nil, err
	}
	in.store = make([]tlog.Hash, 0, max(in.rep.Stored, uint64(len(in.file))))
	if err := in.read(ctx, j); err != nil {
		return nil, err
	}
	in.judge()
	in.judgeNotes()
	slices.SortStableFunc(in.rep.Troubles, func(a, b Trouble) int { return cmp.Compare(a.From, b.From) })
	return in, nil
}

// read goes through the journal, over every hole and every record that
// cannot be read.
func (in *inspection) read(ctx context.Context, j journal.Journal) error {
	for next := uint64(1); next <= in.rep.Stored; next = uint64(len(in.store)) + 1 {
		err := journal.ReadAhead(ctx, j, next, in.rep.Stored, in.worker, in.take)
		next = uint64(len(in.store)) + 1
		switch gap, ok := errors.AsType[*journal.GapError](err); {
		case ok:
			to := in.rep.Stored
			if gap.Got != 0 {
				to = min(to, gap.Got-1)
			}
			t := Trouble{Kind: Unreadable, From: next, To: to}
			for ; next <= to; next++ {
				if in.lost(next) {
					t.Leaves++
				}
			}
			in.rep.Troubles = append(in.rep.Troubles, t)
		case fault.Is(err, journal.ReasonBadRecord):
			in.rep.Troubles = join(in.rep.Troubles, Trouble{Kind: Changed, From: next, To: next, Detail: reasonOf(err)})
			in.lost(next)
		case err != nil:
			return err
		case next <= in.rep.Stored:
			return fault.New(fault.Internal, "short-read", "the journal ended before its last record without an error", "")
		}
	}
	return nil
}

// work is what is made of a record apart from its neighbours.
type work struct {
	leaf tlog.Hash
	ev   floor.Event
	err  error // of the decoding
}

func (in *inspection) worker() func(journal.Record) work {
	var buf []byte
	d := journal.NewDecoder()
	return func(r journal.Record) (w work) {
		w.leaf, buf = leaf(buf, r)
		if in.each != nil {
			w.ev, w.err = d.Decode(r)
		}
		return w
	}
}

// take compares one record with the file of leaves.
func (in *inspection) take(r journal.Record, w work) error {
	in.store = append(in.store, w.leaf)
	if old, ok := in.leaf(r.Seq); ok && old != w.leaf {
		in.differ = append(in.differ, Trouble{Kind: Changed, From: r.Seq, To: r.Seq, Type: r.Type})
	}
	if in.each != nil {
		in.each(r, w.ev, w.err)
	}
	return nil
}

// lost puts the file's leaf, if it has one, in the place of a record that
// cannot be read.
func (in *inspection) lost(seq uint64) bool {
	leaf, ok := in.leaf(seq)
	if !ok {
		in.unproven = append(in.unproven, seq)
	}
	in.store = append(in.store, leaf)
	in.unread++
	return ok
}

// leaf is the file's leaf of a record. A power cut may leave room in a file
// that was never written; such zeros are no leaf.
func (in *inspection) leaf(seq uint64) (tlog.Hash, bool) {
	if seq > uint64(len(in.file)) || in.file[seq-1] == (tlog.Hash{}) {
		return tlog.Hash{}, false
	}
	return in.file[seq-1], true
}

// leavesInFile is how many leaves the file holds, without such zeros behind.
func (in *inspection) leavesInFile() int {
	n := len(in.file)
	for n > 0 && in.file[n-1] == (tlog.Hash{}) {
		n--
	}
	return n
}

// judge compares store, leaves and head.
func (in *inspection) judge() {
	rep, n := &in.rep, in.rep.Head.Size
	if known := max(n, uint64(in.leavesInFile())); known > rep.Stored {
		rep.Troubles = append(rep.Troubles, Trouble{Kind: LostTail, From: rep.Stored + 1, To: known})
	}
	storeAgrees := in.hashStore(n) == rep.Head
	fileAgrees := storeAgrees && in.sameUpTo(n) || uint64(len(in.file)) >= n && headOf(in.file[:n]) == rep.Head
	blind := rep.Stored < n || len(in.unproven) > 0 && in.unproven[0] <= n
	switch {
	case !in.hasHead:
		in.withoutHead()
	case blind && uint64(in.leavesInFile()) < n:
		rep.note("The head over %d records could not be checked: neither the journal nor the file of leaves has them all.", n)
	case storeAgrees && !fileAgrees:
		rep.note("The file of leaves was behind or damaged; the journal itself gives the head's root over %d records, so it is sound.", n)
		in.differ = slices.DeleteFunc(in.differ, func(t Trouble) bool { return t.From <= n })
	case storeAgrees, fileAgrees:
		if n < rep.Stored {
			rep.note("The head is over %d records; the %d after it were acknowledged last and are not under it yet.", n, rep.Stored-n)
		}
	default:
		rep.Troubles = append(rep.Troubles, Trouble{Kind: BadHead, From: 1, To: n})
	}
	rep.Troubles = append(rep.Troubles, in.condensed()...)
	if storeAgrees {
		rep.Checked = n
	}
	for leaf, ok := in.leaf(rep.Checked + 1); ok && rep.Checked < rep.Stored && leaf == in.store[rep.Checked]; leaf, ok = in.leaf(rep.Checked + 1) {
		rep.Checked++
	}
}

// condensed makes one trouble of records that differ one after the other. Where
// they are the great part of what could be compared, from the first record on,
// they say more about the proof than about themselves.
func (in *inspection) condensed() (out []Trouble) {
	for _, t := range in.differ {
		out = join(out, t)
	}
	compared := min(len(in.store), in.leavesInFile()) - int(in.unread)
	if len(out) > 0 && out[0].From == 1 && out[0].To > 1 && 2*len(in.differ) > compared {
		for i := range out {
			out[i].Foreign = true
		}
	}
	return out
}

// join puts a changed record behind others: into the trouble before it where
// that is the same one record earlier.
func join(to []Trouble, t Trouble) []Trouble {
	if n := len(to); n > 0 && to[n-1].Kind == t.Kind && to[n-1].To+1 == t.From && to[n-1].Detail == t.Detail {
		if to[n-1].To = t.To; to[n-1].Type != t.Type {
			to[n-1].Type = "" // they are of several
		}
		return to
	}
	return append(to, t)
}

// hashStore hashes the tree over all records and gives the head that it had
// over the first n; the zero head, which nothing has, when there are fewer.
func (in *inspection) hashStore(n uint64) (then Head) {
	if n == 0 {
		then = headOf(nil)
	}
	for _, l := range in.store {
		in.edge.Push(l)
		if in.edge.Size() == n {
			then = in.edge.Head()
		}
	}
	in.rep.Now = in.edge.Head()
	return then
}

// sameUpTo reports whether the first n leaves of the file are those of the
// store.
func (in *inspection) sameUpTo(n uint64) bool {
	return uint64(min(len(in.file), len(in.store))) >= n && slices.Equal(in.file[:n], in.store[:n])
}

// withoutHead is trouble wherever records stand: the head is on disk before
// the first of them. Leaves alone can show a change, never that there was
// none.
func (in *inspection) withoutHead() {
	if readable := in.rep.Stored - in.unread; readable > 0 {
		in.rep.Troubles = append(in.rep.Troubles, Trouble{
			Kind: Unproven, From: 1, To: in.rep.Stored, Readable: readable, Leaves: uint64(in.leavesInFile()),
		})
	}
}

// reasonOf is an error's message without the hint what to do.
func reasonOf(err error) string {
	if f, ok := errors.AsType[*fault.Error](err); ok {
		return f.Message
	}
	return err.Error()
}
