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
	Unproven   Kind = "unproven"      // records stand, but the head of their proof does not
	Unreadable Kind = "unreadable"    // records in the middle do not come back from the store
	Changed    Kind = "changed"       // a record is not what was acknowledged
	LostTail   Kind = "lost-tail"     // the last records are not there
	BadHead    Kind = "head-mismatch" // the head matches neither the records nor the leaves
	BadNotes   Kind = "acceptances"   // the file of acceptances is not what the head says
)

// Trouble is one thing that is wrong, with the records that it is about.
type Trouble struct {
	Kind     Kind
	From, To uint64 // record numbers, both included
	Type     string // of changed records, where it can be read and is one
	Foreign  bool   // so many records differ that the proof is rather another journal's
	Detail   string // of a record that comes back but makes no sense, or what is wrong with the file of acceptances
	Readable uint64 // how many of the unproven records come back from the store
	Leaves   uint64 // how many leaves the proof has: of unproven records in all, of unreadable ones of these
}

// String says it in one plain sentence.
func (t Trouble) String() string {
	switch t.Kind {
	case Unproven:
		return t.unproven()
	case Unreadable:
		return t.unreadable()
	case Changed:
		return t.changed()
	case BadNotes:
		return fmt.Sprintf("The file of acceptances (%s) %s.", acceptedName, t.Detail)
	case LostTail:
		return fmt.Sprintf("The journal ends at record %d, but %d were acknowledged: what came after is lost.", t.From-1, t.To)
	default:
		return fmt.Sprintf("The head over %d records matches neither the records nor the leaves: a record or the proof itself was changed.", t.To)
	}
}

// changed tells of one record or of several that stand one after the other.
// Where the proof is rather another journal's, nobody knows that bytes changed.
func (t Trouble) changed() string {
	which, is, was, its := fmt.Sprintf("Record %d", t.From), "is", "was", "its"
	if t.To > t.From {
		which, is, was, its = fmt.Sprintf("Records %d to %d", t.From, t.To), "are", "were", "their"
	}
	if t.Detail != "" {
		return fmt.Sprintf("%s %s changed and cannot be read: %s.", which, was, t.Detail)
	}
	if t.Type != "" {
		which += " (" + t.Type + ")"
	}
	switch {
	case t.Foreign && t.From == 1:
		return which + " differ from what was acknowledged: the proof is probably another journal's."
	case t.Foreign && t.From == t.To:
		return which + " differs from what was acknowledged."
	case t.Foreign:
		return which + " differ from what was acknowledged."
	}
	return fmt.Sprintf("%s %s not what was acknowledged: %s bytes were changed.", which, is, its)
}

func (t Trouble) unproven() string {
	stand := fmt.Sprintf("%d records stand", t.Readable)
	if t.Readable == 1 {
		stand = "1 record stands"
	}
	if t.Leaves == 0 {
		return stand + " without a proof: whether one was changed or lost before now cannot be known."
	}
	return fmt.Sprintf("%s without the head of the proof: whether one was changed or lost before now cannot be known, for nothing vouches for the leaves (%d are left).", stand, t.Leaves)
}

// unreadable tells no more than is known: a store hides a record whose own
// checksum is wrong just as if it had gone.
func (t Trouble) unreadable() string {
	n := t.To - t.From + 1
	if n == 1 {
		leaf := "its leaf is in the proof"
		if t.Leaves == 0 {
			leaf = "the proof has no leaf of it"
		}
		return fmt.Sprintf("Record %d cannot be read back: it is missing or its bytes were changed; %s.", t.From, leaf)
	}
	leaves := "their leaves are in the proof"
	switch t.Leaves {
	case n:
	case 0:
		leaves = "the proof has no leaves of them"
	default:
		leaves = fmt.Sprintf("%d of their leaves are in the proof", t.Leaves)
	}
	return fmt.Sprintf("Records %d to %d cannot be read back: they are missing or their bytes were changed; %s.", t.From, t.To, leaves)
}

// Report is what a verification found.
type Report struct {
	Stored   uint64       // the number of the journal's last record
	Head     Head         // as it was read from the file; size 0 when there was none
	Now      Head         // over all records that are stored; meaningful when Proved
	Checked  uint64       // records from the first on that the proof was compared with; meaningful when Proved
	Troubles []Trouble    // by record number
	Notes    []string     // what is unusual but legal, in plain sentences
	Accepted []Acceptance // what people took for the journal before, oldest first
}

// OK reports whether every record that was acknowledged is there unchanged,
// as far as the proof goes, and the file of acceptances as well.
func (r Report) OK() bool { return len(r.Troubles) == 0 }

// Proved reports whether the records are, whatever became of the file of
// acceptances: it takes away who vouched for them, not the records.
func (r Report) Proved() bool {
	for _, t := range r.Troubles {
		if t.Kind != BadNotes {
			return false
		}
	}
	return true
}

// Sentences tell the whole report to a person.
func (r Report) Sentences() []string {
	out := make([]string, 0, len(r.Troubles)+len(r.Notes)+len(r.Accepted)+1)
	for _, t := range r.Troubles {
		out = append(out, t.String())
	}
	if r.Proved() {
		out = append(out, r.sound())
	}
	out = append(out, r.Notes...)
	for _, a := range r.Accepted {
		out = append(out, a.String())
	}
	return out
}

// sound claims for each record only what is known of it.
func (r Report) sound() string {
	if r.Checked < r.Stored {
		if r.Checked == 0 {
			return fmt.Sprintf("All %d records are there; the proof has taken in none of them yet, so whether one was changed cannot be known.", r.Stored)
		}
		return fmt.Sprintf("Records 1 to %d are there and unchanged%s; the proof has not taken in those after them, up to %d, yet.", r.Checked, r.since(r.Checked), r.Stored)
	}
	return fmt.Sprintf("All %d records are there and unchanged%s.", r.Stored, r.since(r.Stored))
}

// farBehind is how many records the proof of a shop in one process may lag
// before that is unusual: after a kill it lacks what was in flight, and that is
// a few.
const farBehind = 1000

// FarBehind says, for a shop in one process, that the proof lags further than
// a kill leaves it, and what that may mean; else nothing. Where services run
// apart others append while the keeper of the proof is away, and any distance
// is usual.
func (r Report) FarBehind() string {
	if !r.Proved() || r.Stored-r.Checked <= farBehind {
		return ""
	}
	return fmt.Sprintf("ATTENTION: %d records stand behind the last one that the proof knows, far more than a crash leaves (a few, %d at most): "+
		"the proof may be an older copy than the store, and nothing shows whether these records were changed. Put the proof back that belongs to this store, if there is one.",
		r.Stored-r.Checked, farBehind)
}

// since is from when on records 1 to n are known to be unchanged, where that
// is not from their acknowledgement on.
func (r Report) since(n uint64) string {
	if len(r.Accepted) == 0 {
		return ""
	}
	last := r.Accepted[len(r.Accepted)-1]
	if last.Records >= n {
		return " since they were accepted at " + last.moment()
	}
	return fmt.Sprintf(", the first %d since they were accepted at %s", last.Records, last.moment())
}

// Where stands in a hint for the flags that say which journal it is. Whoever
// knows them puts them in its place.
const Where = "--dir DIR"

// ReasonGone is the reason of the fault for a journal of which nothing is left
// although its proof knows of records.
const ReasonGone = "journal-gone"

// WayOutOfNothing is what can be done then, as the end of a hint.
const WayOutOfNothing = "restore journal and proof together from a copy; where there is none, everything is lost: " +
	"a new shop begins in another folder, or here once the proof's folder has been moved away knowingly"

// ReasonNotes is the reason of the fault for a journal that is proved, but
// whose file of acceptances is not what it was.
const ReasonNotes = "acceptances-damaged"

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
	const accept = "seamwright journal accept " + Where + " --name NAME --reason TEXT"
	switch {
	case r.Stored == 0 && r.has(LostTail):
		return fault.New(fault.Corrupt, ReasonGone, "The journal is gone: no record stands. "+b.String(), "keep all as it is and "+WayOutOfNothing)
	case r.Proved():
		return fault.New(fault.Corrupt, ReasonNotes, b.String(),
			"put "+acceptedName+" back into the proof's folder from a copy, or go on with a new note of who accepts, and why, by: "+accept+"; the shop opens without it too, for the records are proved")
	case r.onlyUnproven():
		return fault.New(fault.Corrupt, "journal-unproven", b.String(),
			"put the proof back from a copy, or accept the records as they are with: "+accept)
	case r.has(Unreadable) || r.garbled():
		return fault.New(fault.Corrupt, "journal-damaged", b.String(),
			"stop, keep the folder as it is, and restore journal and proof together from a copy: a journal with a hole is never accepted")
	case r.foreign():
		return fault.New(fault.Corrupt, "journal-damaged", b.String(),
			"see that this proof is of this journal and, if it is not, name the right one; if it is, stop, keep the folder as it is, and restore journal and proof together from a copy; where there is none, accept what is left with: "+accept+" --damaged")
	default:
		return fault.New(fault.Corrupt, "journal-damaged", b.String(),
			"stop, keep the folder as it is, and restore journal and proof together from a copy; where there is none, accept what is left with: "+accept+" --damaged")
	}
}

// onlyUnproven reports whether nothing disagrees with the proof but that its
// head is gone.
func (r Report) onlyUnproven() bool {
	return len(r.Troubles) == 1 && r.has(Unproven)
}

func (r Report) has(k Kind) bool {
	for _, t := range r.Troubles {
		if t.Kind == k {
			return true
		}
	}
	return false
}

// garbled reports whether a record comes back that cannot be read.
func (r Report) garbled() bool {
	for _, t := range r.Troubles {
		if t.Kind == Changed && t.Detail != "" {
			return true
		}
	}
	return false
}

// foreign reports whether the proof is rather another journal's.
func (r Report) foreign() bool {
	for _, t := range r.Troubles {
		if t.Foreign {
			return true
		}
	}
	return false
}

func (r *Report) note(format string, v ...any) { r.Notes = append(r.Notes, fmt.Sprintf(format, v...)) }
