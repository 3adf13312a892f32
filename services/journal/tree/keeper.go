package tree

import (
	"context"
	"errors"
	"sync"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"seamwright/services/fault"
	"seamwright/services/journal"
)

// Keeper is a journal that keeps its proof. One process has it: the one
// that hosts the store. Its methods may be called from many goroutines.
type Keeper struct {
	journal.Journal

	mu     sync.Mutex // guards what follows
	files  *files
	edge   Frontier
	broken error // the files cannot be written
	closed bool
}

var _ journal.Chainer = (*Keeper)(nil)

// catchUp is the longest that an append waits for records of others, which
// the proof must take in first.
const catchUp = 5 * time.Second

// Open verifies the journal against the proof in the folder, which is begun
// if it is not there and the journal is empty, extends the proof to the journal's end and returns the
// journal that keeps it. When the report shows trouble there is no keeper, the
// files stay as they are, and the error is the report's. A journal that is
// proved opens although its file of acceptances is not what it was; the report
// tells of it, and every later one does until somebody accepts.
func Open(ctx context.Context, j journal.Journal, dir string) (*Keeper, Report, error) {
	return OpenEach(ctx, j, dir, nil)
}

// OpenEach is Open that hands on every record that it reads, so that a
// journal which is verified and folded at every start is read only once.
func OpenEach(ctx context.Context, j journal.Journal, dir string, each Each) (*Keeper, Report, error) {
	in, err := inspect(ctx, j, dir, each)
	if err != nil {
		return nil, Report{}, err
	}
	if !in.rep.Proved() {
		return nil, in.rep, in.rep.Err()
	}
	next := slot{Head: in.rep.Now, bound: in.head.bound, at: 1 - in.head.at} // never write over the newest head
	if !next.bound.any() {
		// A head of before heads could bind: what stands beside it is bound from
		// now on.
		next.bound = in.notes.all()
	}
	if !in.hasHead {
		if err := beginProof(dir); err != nil {
			return nil, in.rep, err
		}
	}
	k := &Keeper{Journal: j, edge: in.edge}
	if k.files, err = openFiles(dir, in.file, in.store, next); err != nil {
		return nil, in.rep, err
	}
	return k, in.rep, nil
}

// beginProof writes the head over nothing and sees it on disk, before the
// first record is stored. So no crash leaves records without a head.
func beginProof(dir string) error {
	if err := makeFolder(dir); err != nil {
		return err
	}
	return replace(dir, headName, newHead(headOf(nil), bound{}))
}

// Append appends to the journal and extends the proof before it returns.
// Once the proof's files cannot be written, the append that met it still
// succeeds, for its records are stored; every later one is unavailable.
func (k *Keeper) Append(ctx context.Context, expect uint64, recs ...journal.Record) (uint64, error) {
	if err := k.Healthy(); err != nil {
		return 0, err
	}
	last, err := k.Journal.Append(ctx, expect, recs...)
	if err != nil {
		return last, err
	}
	k.took(ctx, expect, last, recs)
	return last, nil
}

// Chain appends to the journal, one record after the other, and extends the
// proof by each before it says that it is stored.
func (k *Keeper) Chain(ctx context.Context, expect uint64, next func() (journal.Record, bool), stored func()) (int, error) {
	if err := k.Healthy(); err != nil {
		return 0, err
	}
	var sent []journal.Record
	return journal.Chain(ctx, k.Journal, expect, func() (r journal.Record, ok bool) {
		if r, ok = next(); ok {
			sent = append(sent, r)
		}
		return r, ok
	}, func() {
		k.took(ctx, expect, expect+1, sent[:1])
		expect, sent = expect+1, sent[1:]
		stored()
	})
}

// took extends the proof by records that were stored behind number expect, up
// to number last.
func (k *Keeper) took(ctx context.Context, expect, last uint64, recs []journal.Record) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.edge.Size() != expect { // others appended, or Run was here first
		k.catchUp(ctx, last)
		return
	}
	leaves := make([]tlog.Hash, len(recs))
	for i, r := range recs {
		r.Source = k.Source()
		leaves[i] = Leaf(r)
	}
	k.extend(leaves)
}

// catchUp reads the records that the proof does not have yet. When that
// fails the proof stays a legal prefix, and the next append reads again. The
// caller holds the lock.
func (k *Keeper) catchUp(ctx context.Context, last uint64) {
	if k.edge.Size() >= last {
		return
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), catchUp)
	defer cancel()
	var leaves []tlog.Hash
	err := k.Read(ctx, k.edge.Size()+1, last, func(r journal.Record) error {
		leaves = append(leaves, Leaf(r))
		return nil
	})
	if _, ok := errors.AsType[*journal.GapError](err); ok {
		k.broken = err
	}
	if len(leaves) > 0 {
		k.extend(leaves)
	}
}

// extend writes leaves behind the edge. The caller holds the lock.
func (k *Keeper) extend(leaves []tlog.Hash) {
	if k.broken != nil || k.closed {
		return
	}
	at := k.edge.Size()
	for _, l := range leaves {
		k.edge.Push(l)
	}
	if err := k.files.append(at, leaves, k.edge.Head()); err != nil {
		k.broken = err
	}
}

// Run takes in what other processes append, until the context ends or the
// journal shows a hole. A shop of one process does not need it.
func (k *Keeper) Run(ctx context.Context) error {
	return k.Follow(ctx, k.Head().Size+1, func(r journal.Record) error {
		k.mu.Lock()
		defer k.mu.Unlock()
		if r.Seq == k.edge.Size()+1 {
			k.extend([]tlog.Hash{Leaf(r)})
		}
		return k.health()
	})
}

// Head is the head over all records that the proof has taken in.
func (k *Keeper) Head() Head {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.edge.Head()
}

// Look sees whether the proof's files still stand in their folder, and is what
// Healthy is from then on. Files that were taken away go on taking in leaves
// that nobody will find.
func (k *Keeper) Look() error {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.broken == nil && !k.closed {
		if gone := k.files.gone(); gone != "" {
			k.broken = errors.New(gone + " was taken away or replaced while the program runs")
		}
	}
	return k.health()
}

// Healthy is nil while the proof can be kept.
func (k *Keeper) Healthy() error {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.health()
}

func (k *Keeper) health() error {
	if k.closed {
		return journal.Closed()
	}
	if k.broken != nil {
		return fault.Wrap(k.broken, fault.Unavailable, "proof-not-kept", "nothing is recorded until the program is started again with a proof folder that can be written")
	}
	return nil
}

// ReadHashes makes the keeper a tlog.HashReader, from which tlog.ProveRecord
// and tlog.ProveTree make proofs for any size up to Head().Size. It computes
// inner hashes from the file of leaves: a proof costs one hash a leaf.
func (k *Keeper) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	if err := k.Healthy(); err != nil {
		return nil, err
	}
	out := make([]tlog.Hash, len(indexes))
	for i, x := range indexes {
		level, n := tlog.SplitStoredHashIndex(x)
		leaves, err := k.files.read(n<<level, (n+1)<<level)
		if err != nil {
			return nil, err
		}
		out[i] = headOf(leaves).Root
	}
	return out, nil
}

// Close syncs the proof and closes it and the journal.
func (k *Keeper) Close() error {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.closed {
		return nil
	}
	k.closed = true
	err := errors.Join(k.files.sync(), k.files.close())
	return errors.Join(err, k.Journal.Close())
}
