package console

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"strings"
	"time"
	"unicode"

	"seamwright/services/app"
	"seamwright/services/fault"
	"seamwright/services/journal"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/natsd"
	"seamwright/services/journal/tree"
)

// Verify checks a shop's stored journal against its proof: every record that
// was acknowledged is there, unchanged, and so is the file that says who
// accepted what. A shop in a folder must not be running. One whose services run apart is verified on its server, against
// the proof's folder, and may be running. A journal that is damaged, has no
// proof or has lost that file is an answer and a corrupt fault.
type Verify struct {
	Dir, Shop   string
	NATS, Proof string // of a shop whose services run apart, in place of Dir
}

type verifyAnswer struct {
	OK       bool            `json:"ok"`
	Stored   uint64          `json:"stored"`
	Proved   uint64          `json:"proved"` // records that the kept head covers
	Root     string          `json:"root"`   // over all stored records, base64; empty when damaged
	Troubles []verifyTrouble `json:"troubles"`
	Notes    []string        `json:"notes"`
	Accepted []acceptance    `json:"accepted"` // what people took for the journal before, oldest first

	sentences []string
}

type verifyTrouble struct {
	Kind   string `json:"kind"`
	From   uint64 `json:"from"`
	To     uint64 `json:"to"`
	Reason string `json:"reason"`
}

type acceptance struct {
	At       string   `json:"at"` // UTC
	Name     string   `json:"name"`
	Reason   string   `json:"reason"`
	Damaged  bool     `json:"damaged"`
	Records  uint64   `json:"records"`
	Root     string   `json:"root"`     // over these, base64
	Troubles []string `json:"troubles"` // at that time, in sentences
	Vouched  bool     `json:"vouched"`  // else its line may have been changed or added by anybody
}

func (a verifyAnswer) Lines() []string { return a.sentences }

// Run verifies.
func (q Verify) Run(ctx context.Context, o Out) error {
	if err := q.check(); err != nil {
		return q.closed(err)
	}
	r, err := q.with(ctx, tree.Verify)
	if err != nil {
		return q.closed(err)
	}
	if far := r.FarBehind(); far != "" && q.NATS == "" {
		r.Notes = append(r.Notes, far)
	}
	return errors.Join(o.put(verified(r)), here(r.Err(), q.Dir, q.NATS, q.Proof))
}

func verified(r tree.Report) verifyAnswer {
	a := verifyAnswer{
		OK: r.OK(), Stored: r.Stored, Proved: r.Head.Size,
		Troubles: []verifyTrouble{}, Notes: list(r.Notes), Accepted: []acceptance{}, sentences: r.Sentences(),
	}
	if r.Proved() {
		a.Root = r.Now.Root.String()
	}
	for _, t := range r.Troubles {
		a.Troubles = append(a.Troubles, verifyTrouble{string(t.Kind), t.From, t.To, t.String()})
	}
	for _, n := range r.Accepted {
		a.Accepted = append(a.Accepted, acceptance{moment(n.At), n.Name, n.Reason, n.Damaged, n.Records, n.Root.String(), list(n.Troubles), !n.Unvouched})
	}
	return a
}

// Accept takes a stored journal without a proof, or with Damaged one that
// disagrees with its proof, for the journal from now on: it writes a new
// proof and keeps a note of who accepted it and why. Every record up to the
// last one must come back from the store; one with a hole is not accepted. The
// shop must not be running. The answer is that of Verify afterwards.
type Accept struct {
	Dir, Shop    string
	NATS, Proof  string // as in Verify
	Name, Reason string
	Damaged      bool
}

// Run accepts.
func (q Accept) Run(ctx context.Context, o Out) error {
	at := Verify{Dir: q.Dir, Shop: q.Shop, NATS: q.NATS, Proof: q.Proof}
	if err := at.check(); err != nil {
		return at.closed(err)
	}
	if q.Name == "" {
		return missing("--name", "the name of the person who accepts")
	}
	if q.Reason == "" {
		return missing("--reason", "why the records are to be taken as they are")
	}
	if q.NATS != "" { // in a shop's own folder the store's lock does it
		unlock, err := tree.Lock(q.Proof)
		if err != nil {
			return at.closed(err)
		}
		defer unlock()
	}
	r, err := at.with(ctx, func(ctx context.Context, j journal.Journal, proof string) (tree.Report, error) {
		return tree.Accept(ctx, j, proof, tree.Acceptance{At: time.Now(), Name: q.Name, Reason: q.Reason, Damaged: q.Damaged})
	})
	if err != nil {
		return at.closed(here(err, q.Dir, q.NATS, q.Proof))
	}
	a := verified(r)
	if r.OK() {
		a.sentences = append(a.sentences, q.next())
	}
	return errors.Join(o.put(a), here(r.Err(), q.Dir, q.NATS, q.Proof))
}

// next is what is left to do once a journal was accepted.
func (q Accept) next() string {
	if q.NATS != "" {
		return "Now start the service again that keeps this proof, with --proof " + quoted(q.Proof) + "."
	}
	return "Now start the shop again: seamwright up --dir " + quoted(q.Dir)
}

// check finds out whether there is a journal, before a server makes one.
func (q Verify) check() error {
	if err := journal.CheckShop(q.Shop); err != nil {
		return err
	}
	switch {
	case q.NATS != "" && q.Dir != "":
		return fault.Bad("--dir", show(q.Dir), "not beside --nats; one of them says where the journal is")
	case q.NATS != "" && q.Proof == "":
		return missing("--proof", "the folder of the journal's proof")
	case q.NATS == "" && q.Proof != "":
		return fault.Bad("--proof", show(q.Proof), "beside --nats only; a shop's own folder has its proof")
	case q.NATS != "":
		return nil
	case q.Dir == "":
		return missing("--dir", "the shop's folder")
	}
	if missing, others := app.StoreMissing(q.Dir, q.Shop); missing {
		return q.gone(others)
	}
	return nil
}

// gone says what is known of a journal that is not there: that the folder has
// another shop's, that the proof tells of a loss, or nothing.
func (q Verify) gone(others []string) error {
	if len(others) > 0 {
		return app.OtherShop(q.Dir, q.Shop, others)
	}
	return lostAll(q.Dir, q.Shop, app.ProofFolder(q.Dir), fault.New(fault.NotFound, "journal-not-found",
		"--dir: "+show(q.Dir)+": holds no journal of a shop called "+q.Shop, "name the folder that was given to: seamwright up --dir"))
}

// lostAll is the fault of a store that is gone although a proof of it stands;
// without a proof it is the other error.
func lostAll(place, shop, proof string, absent error) error {
	if err := app.Gone(place, shop, proof); err != nil {
		return err
	}
	return absent
}

// here puts the flags that say which journal it is into a hint that leaves
// them open.
func here(err error, dir, server, proof string) error {
	e, ok := errors.AsType[*fault.Error](err)
	if !ok || !fault.Is(err, "journal-unproven") && !fault.Is(err, "journal-damaged") && !fault.Is(err, tree.ReasonNotes) {
		return err
	}
	where := "--dir " + quoted(dir)
	if server != "" {
		where = "--nats URL --proof " + quoted(proof)
	}
	told := *e
	told.Hint = strings.Replace(e.Hint, tree.Where, where, 1)
	return &told
}

// quoted is a path as a shell takes it for one word.
func quoted(path string) string {
	if strings.ContainsFunc(path, func(r rune) bool {
		return !strings.ContainsRune("/._-+,:@%", r) && !unicode.IsLetter(r) && !unicode.IsDigit(r)
	}) {
		return "'" + strings.ReplaceAll(path, "'", `'\''`) + "'"
	}
	return path
}

// with opens the stored journal for one job: on a server of its own, or on
// the shop's.
func (q Verify) with(ctx context.Context, do func(context.Context, journal.Journal, string) (tree.Report, error)) (r tree.Report, err error) {
	quiet := slog.New(slog.NewTextHandler(io.Discard, nil))
	if q.NATS != "" {
		j, err := app.StoredAt(ctx, q.NATS, q.Shop, quiet)
		if fault.Is(err, "journal-not-found") {
			return r, lostAll("the server", q.Shop, q.Proof, err)
		}
		if err != nil {
			return r, err
		}
		defer func() { err = errors.Join(err, j.Close(), handBack(q.Proof)) }()
		return do(ctx, j, q.Proof)
	}
	defer func() { err = errors.Join(err, handBack(q.Dir)) }() // a store that is only read is written to as well
	s, err := natsd.Start(natsd.Options{StoreDir: app.StoreFolder(q.Dir), Logger: quiet})
	if err != nil {
		return r, err
	}
	defer s.Stop()
	nc, err := s.Connect("verify")
	if err != nil {
		return r, err
	}
	defer nc.Close()
	j, err := jet.Open(ctx, nc, jet.Options{Shop: q.Shop})
	if err != nil {
		return r, err
	}
	defer func() { err = errors.Join(err, j.Close()) }()
	return do(ctx, j, app.ProofFolder(q.Dir))
}
