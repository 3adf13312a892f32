package app

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"

	"seamwright/services/fault"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/natsd"
	"seamwright/services/journal/tree"
)

// StoreMissing finds out whether the store of a shop's journal in its folder
// is not there, before a server makes one, and which other shops' are.
func StoreMissing(dir, shop string) (missing bool, others []string) {
	stream := natsd.Folder(StoreFolder(dir), jet.StreamName(shop))
	if _, err := os.Stat(stream); !errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	prefix := jet.StreamName("")
	found, _ := filepath.Glob(filepath.Join(filepath.Dir(stream), prefix+"*")) // without them there is nothing to name
	for _, o := range found {
		others = append(others, strings.TrimPrefix(filepath.Base(o), prefix))
	}
	return true, others
}

// Gone is the corrupt fault of a store that is not there although a proof of
// it stands, and nil where the proof knows of no record.
func Gone(place, shop, proof string) error {
	n, err := tree.Acknowledged(proof)
	if err != nil || n == 0 {
		return err
	}
	return fault.New(fault.Corrupt, tree.ReasonGone,
		fmt.Sprintf("The journal is gone: %s has no store of a shop called %s, but the proof says that %d records were acknowledged.", place, shop, n),
		"see that the shop's name is right, keep all as it is and "+tree.WayOutOfNothing)
}

// notGone refuses to begin an empty journal in a folder beside a proof that
// knows of records.
func notGone(dir, shop string) error {
	missing, others := StoreMissing(dir, shop)
	if !missing {
		return nil
	}
	err := Gone(dir, shop, ProofFolder(dir))
	if fault.Is(err, tree.ReasonGone) && len(others) > 0 {
		return OtherShop(dir, shop, others)
	}
	return err
}

// OtherShop is the fault of a folder whose journal is another shop's.
func OtherShop(dir, shop string, others []string) error {
	return fault.New(fault.NotFound, "journal-not-found",
		fmt.Sprintf("--dir: %s: holds no journal of a shop called %s, but of %s", fault.Show(dir, 60), shop, strings.Join(others, ", ")), "name it with --shop")
}

// notGoneAt is notGone for a journal on a server of its own. What keeps the
// server from answering is told when the journal is opened.
func notGoneAt(ctx context.Context, nc *nats.Conn, shop, proof string) error {
	js, err := jetstream.New(nc)
	if err != nil {
		return nil
	}
	if _, err := js.Stream(ctx, jet.StreamName(shop)); !errors.Is(err, jetstream.ErrStreamNotFound) {
		return nil
	}
	return Gone("the server", shop, proof)
}
