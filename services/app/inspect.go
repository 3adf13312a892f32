package app

import (
	"context"
	"crypto/sha256"
	"fmt"
	"maps"
	"slices"

	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/journal"
	"seamwright/services/journal/tree"
)

// Inspection looks at a running shop from inside: for simulations and other
// checks, which must not be able to change anything.
type Inspection struct {
	app    *App
	upTo   uint64   // records that an earlier look has read
	digest [32]byte // over those
}

// Inspect makes an inspection of the running shop. It is used by one
// goroutine at a time.
func (a *App) Inspect() *Inspection { return &Inspection{app: a} }

// Hash is that of the floor as it stands.
func (i *Inspection) Hash(context.Context) (h string, err error) {
	i.app.desk.Writer.View(func(uint64) { h = i.app.desk.Floor.Hash() })
	return h, i.app.desk.Writer.Healthy()
}

// ReplayHash is that of a floor folded again from the journal's first event.
func (i *Inspection) ReplayHash(ctx context.Context) (string, error) {
	f := floor.New()
	err := i.app.store.journal.Read(ctx, 1, journal.End, func(r journal.Record) error {
		ev, err := journal.Decode(r)
		if err != nil {
			return err
		}
		return f.Apply(ev)
	})
	if err != nil {
		return "", err
	}
	return f.Hash(), nil
}

// VerifyJournal reads the journal through: every number once, and what an
// earlier look has read unchanged. A journal on disk is proved by its tree as
// well.
func (i *Inspection) VerifyJournal(ctx context.Context) error {
	h, next := sha256.New(), uint64(1)
	err := i.app.store.journal.Read(ctx, 1, journal.End, func(r journal.Record) error {
		if r.Seq != next {
			return corrupt("record-missing", fmt.Sprintf("record %d follows record %d", r.Seq, next-1))
		}
		fmt.Fprintf(h, "%d %q %q %q %q %d %x\n", r.Seq, r.ID, r.Source, r.Type, r.Aggregate, r.Time.UnixNano(), r.Payload)
		for _, k := range slices.Sorted(maps.Keys(r.Attrs)) {
			fmt.Fprintf(h, "%q %q\n", k, r.Attrs[k])
		}
		if next == i.upTo && [32]byte(h.Sum(nil)) != i.digest {
			return corrupt("record-changed", fmt.Sprintf("among the first %d records one is no longer what it was", i.upTo))
		}
		next++
		return nil
	})
	if err != nil {
		return err
	}
	if next-1 < i.upTo {
		return corrupt("records-lost", fmt.Sprintf("the journal ends at record %d, it had %d", next-1, i.upTo))
	}
	i.upTo, i.digest = next-1, [32]byte(h.Sum(nil))
	if i.app.store.proof == nil {
		return nil
	}
	report, err := tree.Verify(ctx, i.app.store.journal, ProofFolder(i.app.opt.Dir))
	if err != nil {
		return err
	}
	return report.Err()
}

func corrupt(reason, message string) error {
	return fault.New(fault.Corrupt, reason, message, "stop the shop and verify its journal")
}

// Doubt puts the store in doubt, or takes the doubt away: while it lasts the
// gate must hold. It is for exercises.
func (i *Inspection) Doubt(on bool) {
	if !on {
		i.Trouble(nil)
		return
	}
	i.Trouble(fault.New(fault.Unavailable, "exercise", "the store is in doubt for an exercise", "end the exercise"))
}

// Trouble makes the process tell of a trouble, or, with nil, of none any
// more. It is for exercises.
func (i *Inspection) Trouble(err error) {
	if err == nil {
		i.app.doubt.Store(nil)
		return
	}
	i.app.doubt.Store(&err)
}

// Halt makes the steps of an actor fail, by the name that the gate holds by
// then, or ends that. On a driven clock it does nothing. It is for exercises.
func (i *Inspection) Halt(name string, on bool) {
	for _, a := range i.app.attended {
		if a.Name == name {
			a.Halt(on)
		}
	}
}
