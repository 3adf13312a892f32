package tree

import (
	"context"
	"fmt"
	"strings"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"seamwright/services/fault"
	"seamwright/services/journal"
)

// Acknowledged is how many records the proof in a folder says were
// acknowledged, 0 when there is no proof: for a journal that is gone as a
// whole, which [Verify] has nothing to read of.
func Acknowledged(dir string) (uint64, error) {
	head, _, err := readHead(dir)
	if err != nil {
		return 0, err
	}
	leaves, err := readLeaves(dir)
	if err != nil {
		return 0, err
	}
	in := inspection{file: leaves}
	return max(head.Size, uint64(in.leavesInFile())), nil
}

// Acceptance is a person's word that a journal, as it stood, is to be taken
// for the journal from then on, although its proof was gone or disagreed.
type Acceptance struct {
	At       time.Time `json:"at"`       // UTC
	Name     string    `json:"name"`     // who
	Reason   string    `json:"reason"`   // why
	Damaged  bool      `json:"damaged"`  // whether a proof that disagrees may be accepted
	Records  uint64    `json:"records"`  // how many stood; filled in by Accept
	Root     tlog.Hash `json:"root"`     // over these, base64; filled in by Accept
	Troubles []string  `json:"troubles"` // what was wrong, in sentences; filled in by Accept

	// Doubted is how many lines of the file of acceptances right before this one
	// nobody vouched for when it was written: the file was not what the head of
	// the proof knew. Filled in by Accept.
	Doubted int `json:"doubted,omitempty"`

	// Unvouched is set on an acceptance whose line may have been changed or
	// added by anybody, since a later one doubts it or the head of the proof
	// does not know it.
	Unvouched bool `json:"-"`

	// Unnamed is set on an acceptance of which only the head of the proof still
	// tells, so that time and number are all that is known of it.
	Unnamed bool `json:"-"`
}

func (a Acceptance) moment() string { return a.At.UTC().Format(time.RFC3339) }

// String tells it in plain sentences.
func (a Acceptance) String() string {
	if a.Unnamed {
		return fmt.Sprintf("At %s somebody accepted %d records as they stood; that is all the head of the proof says, "+
			"for the file of acceptances (%s) is not what it was.", a.moment(), a.Records, acceptedName)
	}
	said := fmt.Sprintf("At %s %s accepted %d records as they stood; reason: %s. Trouble at that time: %s",
		a.moment(), a.Name, a.Records, strings.TrimRight(a.Reason, ". "), strings.Join(a.Troubles, " "))
	if a.Unvouched {
		said += " NOBODY VOUCHES FOR THIS LINE: the file that it stands in was changed behind the program's back."
	}
	return said
}

// check says what is wrong with the person's part.
func (a Acceptance) check() error {
	for _, f := range []struct{ path, text string }{{"name", a.Name}, {"reason", a.Reason}} {
		const most = 500
		if strings.TrimSpace(f.text) == "" || len(f.text) > most || strings.ContainsFunc(f.text, func(r rune) bool { return r < ' ' }) {
			return fault.Bad(f.path, fmt.Sprintf("%d bytes", len(f.text)), fmt.Sprintf("1 to %d bytes of text on one line", most))
		}
	}
	return nil
}

// Accept writes a new proof over the records that are there, and before it a
// note of who accepted them and why. It is for a journal that [Verify] calls
// unproven, and for one whose file of acceptances is not what it was; one that
// disagrees with its proof needs a.Damaged as well, and
// one with records that do not come back from the store, or of which none is
// left, is not accepted at all, for no shop opens over a hole. A sound journal is refused. The report
// is that of a verification afterwards.
func Accept(ctx context.Context, j journal.Journal, dir string, a Acceptance) (Report, error) {
	if err := a.check(); err != nil {
		return Report{}, err
	}
	in, err := inspect(ctx, j, dir, nil)
	if err != nil {
		return Report{}, err
	}
	switch rep := in.rep; {
	case rep.OK():
		return rep, fault.New(fault.Refused, "nothing-to-accept", strings.Join(rep.Sentences(), " "), "there is nothing to accept")
	case rep.Stored == 0, rep.has(Unreadable), rep.garbled(), !rep.onlyUnproven() && !rep.Proved() && !a.Damaged:
		return rep, rep.Err()
	}
	a.At = a.At.UTC()
	now := in.rep.Now
	a.Records, a.Root, a.Doubted = now.Size, now.Root, in.notes.doubted(in.head.bound)
	for _, t := range in.rep.Troubles {
		a.Troubles = append(a.Troubles, t.String())
	}
	if err := makeFolder(dir); err != nil {
		return in.rep, err
	}
	// The note first: a proof without it would hide that somebody accepted.
	// The head last: until it stands, the journal is not sound.
	if err := appendNote(dir, a); err != nil {
		return in.rep, err
	}
	noted, err := readNotes(dir)
	if err != nil {
		return in.rep, err
	}
	if err := replace(dir, leavesName, concat(in.store)); err != nil {
		return in.rep, err
	}
	if err := replace(dir, headName, newHead(now, noted.all())); err != nil {
		return in.rep, err
	}
	return Verify(ctx, j, dir)
}
