package journal

import (
	"context"
	"time"

	"seamwright/services/fault"
)

// askWithin is how long the journal may take to say where it ends before a
// refusal goes out as it is.
const askWithin = 2 * time.Second

// overtaken reports whether another process had written what a command that
// came to nothing did not see: a job that was opened there a moment ago is
// not unknown. What is stored meets a conflict then, what is not stored meets
// nothing, so the journal is asked; the fold has read on when it returns. A
// journal that does not answer leaves the command with what was seen.
func (w *Writer) overtaken(ctx context.Context, d decision) bool {
	if d.taken || !leans(d.err) {
		return false
	}
	ctx, cancel := context.WithTimeout(ctx, askWithin)
	defer cancel()
	last, err := w.journal.Last(ctx)
	return err == nil && last > d.seq && w.catchUp(ctx, last) == nil
}

// leans reports whether an answer hangs on what the fold knows: nothing to be
// stored, a thing that is not there or there already, a permission. What is
// ill-formed is so for every fold.
func leans(err error) bool {
	switch fault.KindOf(err) {
	case fault.NotFound, fault.Exists, fault.Refused:
		return true
	}
	return err == nil
}
