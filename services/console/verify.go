package console

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"os"

	"seamwright/services/app"
	"seamwright/services/fault"
	"seamwright/services/journal"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/natsd"
	"seamwright/services/journal/tree"
)

// Verify checks a shop's stored journal against its proof: every record that
// was acknowledged is there, unchanged. The shop must not be running. A
// damaged journal is an answer and a corrupt fault.
type Verify struct{ Dir, Shop string }

type verifyAnswer struct {
	OK       bool            `json:"ok"`
	Stored   uint64          `json:"stored"`
	Proved   uint64          `json:"proved"` // records that the kept head covers
	Root     string          `json:"root"`   // over all stored records, base64; empty when damaged
	Troubles []verifyTrouble `json:"troubles"`
	Notes    []string        `json:"notes"`

	sentences []string
}

type verifyTrouble struct {
	Kind   string `json:"kind"`
	From   uint64 `json:"from"`
	To     uint64 `json:"to"`
	Reason string `json:"reason"`
}

func (a verifyAnswer) Lines() []string { return a.sentences }

// Run verifies.
func (q Verify) Run(ctx context.Context, o Out) error {
	if err := q.check(); err != nil {
		return err
	}
	r, err := q.verify(ctx)
	if err != nil {
		return err
	}
	a := verifyAnswer{OK: r.OK(), Stored: r.Stored, Proved: r.Head.Size, Troubles: []verifyTrouble{}, Notes: list(r.Notes), sentences: r.Sentences()}
	if r.OK() {
		a.Root = r.Now.Root.String()
	}
	for _, t := range r.Troubles {
		a.Troubles = append(a.Troubles, verifyTrouble{string(t.Kind), t.From, t.To, t.String()})
	}
	return errors.Join(o.put(a), r.Err())
}

// check finds out whether there is a journal, before a server makes one.
func (q Verify) check() error {
	if q.Dir == "" {
		return missing("--dir", "the shop's folder")
	}
	if err := journal.CheckShop(q.Shop); err != nil {
		return err
	}
	stream := natsd.Folder(app.StoreFolder(q.Dir), jet.StreamName(q.Shop))
	if _, err := os.Stat(stream); err != nil {
		return fault.New(fault.NotFound, "journal-not-found", "--dir: "+show(q.Dir)+": holds no journal of a shop called "+q.Shop,
			"name the folder that was given to: seamwright up --dir")
	}
	return nil
}

func (q Verify) verify(ctx context.Context) (r tree.Report, err error) {
	quiet := slog.New(slog.NewTextHandler(io.Discard, nil))
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
	return tree.Verify(ctx, j, app.ProofFolder(q.Dir))
}
