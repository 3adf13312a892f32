package console

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"os"
	"time"

	"seamwright/services/app"
	"seamwright/services/fault"
	"seamwright/services/journal"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/natsd"
	"seamwright/services/journal/tree"
)

// Verify checks a shop's stored journal against its proof: every record that
// was acknowledged is there, unchanged. A shop in a folder must not be
// running. One whose services run apart is verified on its server, against
// the proof's folder, and may be running. A journal that is damaged or has no
// proof is an answer and a corrupt fault.
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
}

func (a verifyAnswer) Lines() []string { return a.sentences }

// Run verifies.
func (q Verify) Run(ctx context.Context, o Out) error {
	if err := q.check(); err != nil {
		return err
	}
	r, err := q.with(ctx, tree.Verify)
	if err != nil {
		return err
	}
	return errors.Join(o.put(verified(r)), r.Err())
}

func verified(r tree.Report) verifyAnswer {
	a := verifyAnswer{
		OK: r.OK(), Stored: r.Stored, Proved: r.Head.Size,
		Troubles: []verifyTrouble{}, Notes: list(r.Notes), Accepted: []acceptance{}, sentences: r.Sentences(),
	}
	if r.OK() {
		a.Root = r.Now.Root.String()
	}
	for _, t := range r.Troubles {
		a.Troubles = append(a.Troubles, verifyTrouble{string(t.Kind), t.From, t.To, t.String()})
	}
	for _, n := range r.Accepted {
		a.Accepted = append(a.Accepted, acceptance{moment(n.At), n.Name, n.Reason, n.Damaged, n.Records, n.Root.String(), list(n.Troubles)})
	}
	return a
}

// Accept takes a stored journal without a proof, or with Damaged one that
// disagrees with its proof, for the journal from now on: it writes a new
// proof and keeps a note of who accepted it and why. The shop must not be
// running. The answer is that of Verify afterwards.
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
		return err
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
			return err
		}
		defer unlock()
	}
	r, err := at.with(ctx, func(ctx context.Context, j journal.Journal, proof string) (tree.Report, error) {
		return tree.Accept(ctx, j, proof, tree.Acceptance{At: time.Now(), Name: q.Name, Reason: q.Reason, Damaged: q.Damaged})
	})
	if err != nil {
		return err
	}
	return errors.Join(o.put(verified(r)), r.Err())
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
	stream := natsd.Folder(app.StoreFolder(q.Dir), jet.StreamName(q.Shop))
	if _, err := os.Stat(stream); err != nil {
		return fault.New(fault.NotFound, "journal-not-found", "--dir: "+show(q.Dir)+": holds no journal of a shop called "+q.Shop,
			"name the folder that was given to: seamwright up --dir")
	}
	return nil
}

// with opens the stored journal for one job: on a server of its own, or on
// the shop's.
func (q Verify) with(ctx context.Context, do func(context.Context, journal.Journal, string) (tree.Report, error)) (r tree.Report, err error) {
	quiet := slog.New(slog.NewTextHandler(io.Discard, nil))
	if q.NATS != "" {
		j, err := app.StoredAt(ctx, q.NATS, q.Shop, quiet)
		if err != nil {
			return r, err
		}
		defer func() { err = errors.Join(err, j.Close()) }()
		return do(ctx, j, q.Proof)
	}
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
