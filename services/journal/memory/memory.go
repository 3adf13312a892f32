// Package memory is a journal that lives in the process: for simulation and
// for tests of what stands above the journal. It keeps the promises of
// package journal except the disk, blocks on channels only (so it can run
// inside a testing/synctest bubble) and knows no clock.
package memory

import (
	"context"
	"sync"

	"seamwright/services/journal"
)

// Options of a journal in memory. The zero value is a shop called "demo"
// that remembers every command id.
type Options struct {
	Shop string // stands in each record's source

	// Remember is how many of the last records have their ids refused, in
	// place of the time that a durable journal remembers them; 0 means all.
	Remember int
}

// Journal is a journal in memory.
type Journal struct {
	mu     sync.Mutex
	source string
	recall int
	recs   []journal.Record  // number n stands at n-1
	seqs   map[string]uint64 // by command id, the remembered ones
	grown  chan struct{}     // closed and replaced when records arrive or the journal closes
	closed bool
}

var _ journal.Journal = (*Journal)(nil)

// New makes an empty journal.
func New(o Options) *Journal {
	if o.Shop == "" {
		o.Shop = "demo"
	}
	return &Journal{
		source: journal.Source(o.Shop), recall: o.Remember,
		seqs: make(map[string]uint64), grown: make(chan struct{}),
	}
}

// Append stores the records behind number expect, or none of them.
func (j *Journal) Append(ctx context.Context, expect uint64, recs ...journal.Record) (uint64, error) {
	if err := journal.Check(recs...); err != nil {
		return 0, err
	}
	if err := ctx.Err(); err != nil {
		return 0, journal.Unsure(expect, err)
	}
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.closed {
		return 0, journal.Closed()
	}
	if err := j.refuse(expect, recs); err != nil {
		return 0, err
	}
	for _, r := range recs {
		r = r.Clone()
		r.Source = j.source
		r.Seq = uint64(len(j.recs)) + 1
		r.Time = r.Time.UTC().Round(0) // as a stored one would come back
		j.recs = append(j.recs, r)
		j.seqs[r.ID] = r.Seq
		j.forget()
	}
	j.wake()
	return uint64(len(j.recs)), nil
}

// refuse says why the records cannot be stored; the caller holds the lock.
func (j *Journal) refuse(expect uint64, recs []journal.Record) error {
	last := uint64(len(j.recs))
	if last != expect {
		if expect < last && j.recs[expect].ID == recs[0].ID {
			return &journal.TakenError{ID: recs[0].ID, Seq: expect + 1}
		}
		return &journal.ConflictError{Expect: expect, Last: last}
	}
	for _, r := range recs {
		if seq, ok := j.seqs[r.ID]; ok {
			return &journal.TakenError{ID: r.ID, Seq: seq}
		}
	}
	return nil
}

// forget drops the one id that has just left the remembered records.
func (j *Journal) forget() {
	gone := len(j.recs) - j.recall - 1
	if j.recall == 0 || gone < 0 {
		return
	}
	if old := j.recs[gone]; j.seqs[old.ID] == old.Seq {
		delete(j.seqs, old.ID)
	}
}

func (j *Journal) wake() {
	close(j.grown)
	j.grown = make(chan struct{})
}

// Last is the number of the last record.
func (j *Journal) Last(context.Context) (uint64, error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.closed {
		return 0, journal.Closed()
	}
	return uint64(len(j.recs)), nil
}

// Read calls fn for the records from number from to number to.
func (j *Journal) Read(ctx context.Context, from, to uint64, fn func(journal.Record) error) error {
	last, err := j.Last(ctx)
	if err != nil {
		return err
	}
	for seq := max(from, 1); seq <= min(to, last); seq++ {
		if err := ctx.Err(); err != nil {
			return err
		}
		r, _, err := j.at(seq)
		if err != nil {
			return err
		}
		if err := fn(r); err != nil {
			return err
		}
	}
	return nil
}

// Follow calls fn for the records from number from on, until it fails, the
// context ends or the journal is closed.
func (j *Journal) Follow(ctx context.Context, from uint64, fn func(journal.Record) error) error {
	for seq := max(from, 1); ; {
		if err := ctx.Err(); err != nil {
			return err
		}
		r, grown, err := j.at(seq)
		if err != nil {
			return err
		}
		if r.Seq == 0 {
			select {
			case <-ctx.Done():
			case <-grown:
			}
			continue
		}
		if err := fn(r); err != nil {
			return err
		}
		seq++
	}
}

// at returns record seq, or one with number 0 and the channel that will be
// closed when there is more.
func (j *Journal) at(seq uint64) (journal.Record, <-chan struct{}, error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.closed {
		return journal.Record{}, nil, journal.Closed()
	}
	if seq > uint64(len(j.recs)) {
		return journal.Record{}, j.grown, nil
	}
	r := j.recs[seq-1]
	if r.Seq == 0 {
		return journal.Record{}, nil, j.gap(seq)
	}
	return r, nil, nil
}

// Source is the source of every record.
func (j *Journal) Source() string { return j.source }

// Close ends every reader; the records are gone with the value.
func (j *Journal) Close() error {
	j.mu.Lock()
	defer j.mu.Unlock()
	if !j.closed {
		j.closed = true
		j.wake()
	}
	return nil
}
