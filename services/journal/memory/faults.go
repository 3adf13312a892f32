package memory

import "seamwright/services/journal"

// Lose makes a stored record vanish, as a damaged disk would: readers that
// come to it end with a gap. For simulations and tests.
func (j *Journal) Lose(seq uint64) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.recs[seq-1] = journal.Record{}
}

// Change alters a stored record behind the journal's back. For simulations
// and tests.
func (j *Journal) Change(seq uint64, alter func(*journal.Record)) {
	j.mu.Lock()
	defer j.mu.Unlock()
	r := j.recs[seq-1].Clone()
	alter(&r)
	j.recs[seq-1] = r
}

// Cut drops every record behind number last, as a store that lost its tail.
func (j *Journal) Cut(last uint64) {
	j.mu.Lock()
	defer j.mu.Unlock()
	for _, r := range j.recs[last:] {
		delete(j.seqs, r.ID)
	}
	j.recs = j.recs[:last]
}

// gap says which record a reader at number seq meets next, when that one is
// lost. The caller holds the lock.
func (j *Journal) gap(seq uint64) error {
	for _, r := range j.recs[seq-1:] {
		if r.Seq != 0 {
			return &journal.GapError{Want: seq, Got: r.Seq}
		}
	}
	return &journal.GapError{Want: seq}
}
