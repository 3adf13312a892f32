package journal

import (
	"fmt"

	"seamwright/services/fault"
	"seamwright/services/floor"
)

// Replay folds a journal's events from the first one on, before there is a
// [Writer]: while the proof is still being checked, for instance. What it has
// folded is worth something only once the journal has proved sound.
type Replay struct {
	fold Fold
	err  error
}

// NewReplay begins to replay into a fold.
func NewReplay(fold Fold) *Replay { return &Replay{fold: fold} }

// Take folds the next record, given as its event or as the error of its
// decoding. The first that cannot be folded ends the replay; those behind it
// are passed over.
func (p *Replay) Take(r Record, e floor.Event, err error) {
	if p.err != nil {
		return
	}
	if at := p.fold.Seq(); err == nil && r.Seq != at+1 {
		err = &GapError{Want: at + 1, Got: r.Seq}
	}
	if err == nil {
		err = guard(func() error { return p.fold.Apply(e) })
	}
	if err == nil && p.fold.Seq() != r.Seq {
		err = fmt.Errorf("the fold counts %d", p.fold.Seq())
	}
	if err != nil {
		p.err = fault.New(fault.Unavailable, ReasonStopped, fmt.Sprintf("the floor stopped at record %d (%s): %v", r.Seq, r.Type, err),
			"start a program that knows every event of this journal, or restore the journal from a copy")
	}
}

// Err tells why the replay ended before the last record that it was given.
func (p *Replay) Err() error { return p.err }

// guard turns a panic of the fold into an error.
func guard(fn func() error) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("panic: %v", p)
		}
	}()
	return fn()
}
