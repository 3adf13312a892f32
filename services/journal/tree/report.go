package tree

import (
	"fmt"
	"strings"

	"seamwright/services/fault"
)

// Kind says what is wrong with a journal or its proof.
type Kind string

// The kinds of trouble.
const (
	Missing  Kind = "missing"       // records in the middle are not there
	Changed  Kind = "changed"       // a record is not what was acknowledged
	LostTail Kind = "lost-tail"     // the last records are not there
	BadHead  Kind = "head-mismatch" // the head does not match the leaves
)

// Trouble is one thing that is wrong, with the records that it is about.
type Trouble struct {
	Kind     Kind
	From, To uint64 // record numbers, both included
	Type     string // of a changed record, where it can be read
	Detail   string // of a record that cannot be read at all
}

// String says it in one plain sentence.
func (t Trouble) String() string {
	switch t.Kind {
	case Missing:
		if t.From == t.To {
			return fmt.Sprintf("Record %d is missing from the journal.", t.From)
		}
		return fmt.Sprintf("Records %d to %d are missing from the journal.", t.From, t.To)
	case Changed:
		if t.Detail != "" {
			return fmt.Sprintf("Record %d was changed and cannot be read: %s.", t.From, t.Detail)
		}
		return fmt.Sprintf("Record %d (%s) is not what was acknowledged: its bytes were changed.", t.From, t.Type)
	case LostTail:
		return fmt.Sprintf("The journal ends at record %d, but %d were acknowledged: what came after is lost.", t.From-1, t.To)
	default:
		return fmt.Sprintf("The head over %d records does not match the leaves: the files of the proof were changed.", t.To)
	}
}

// Report is what a verification found.
type Report struct {
	Stored   uint64    // the number of the journal's last record
	Head     Head      // as it was read from the file; size 0 when there was none
	Now      Head      // over all records that are stored; meaningful when there is no trouble
	Troubles []Trouble // by record number
	Notes    []string  // what is unusual but legal, in plain sentences
}

// OK reports whether every record that was acknowledged is there unchanged.
func (r Report) OK() bool { return len(r.Troubles) == 0 }

// Sentences tell the whole report to a person.
func (r Report) Sentences() []string {
	out := make([]string, 0, len(r.Troubles)+len(r.Notes)+1)
	for _, t := range r.Troubles {
		out = append(out, t.String())
	}
	if r.OK() {
		out = append(out, fmt.Sprintf("All %d records are there and unchanged.", r.Stored))
	}
	return append(out, r.Notes...)
}

// Err is nil for a sound journal, else a corrupt fault that names the first
// troubles.
func (r Report) Err() error {
	if r.OK() {
		return nil
	}
	var b strings.Builder
	for i, t := range r.Troubles {
		if i == 3 {
			fmt.Fprintf(&b, " And %d more.", len(r.Troubles)-i)
			break
		}
		if i > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(t.String())
	}
	return fault.New(fault.Corrupt, "journal-damaged", b.String(),
		"stop, keep the folder as it is, and restore the journal from a copy")
}

func (r *Report) note(format string, v ...any) { r.Notes = append(r.Notes, fmt.Sprintf(format, v...)) }
