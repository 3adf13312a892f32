package console_test

import (
	"io"
	"path/filepath"
	"strings"
	"testing"

	"seamwright/services/console"
	"seamwright/services/fault"
)

// A journal on a server whose proof is gone, and a proof whose journal is
// gone, are told with the flags that such a shop needs.
func TestVerifyOnAServerSaysWhichFlags(t *testing.T) {
	t.Parallel()
	dir := openUp(t)
	zones := console.Import{At: console.At{Dir: dir}, Zones: filepath.Join("..", "..", "testdata", "shop", "zones")}
	if err := zones.Run(t.Context(), console.Out{W: io.Discard}); err != nil {
		t.Fatal(err)
	}
	url := service(t, dir).Opts.Servers[0]
	none := filepath.Join(t.TempDir(), "the proof")
	err := console.Verify{NATS: url, Shop: "demo", Proof: none}.Run(t.Context(), console.Out{W: io.Discard})
	want := "seamwright journal accept --nats URL --proof '" + none + "' --name NAME --reason TEXT"
	if !fault.Is(err, "journal-unproven") || !strings.HasSuffix(err.Error(), want) {
		t.Errorf("without a proof: %v, want the command %s", err, want)
	}
	err = console.Verify{NATS: url, Shop: "elsewhere", Proof: filepath.Join(dir, "proof")}.Run(t.Context(), console.Out{W: io.Discard})
	if !fault.Is(err, "journal-gone") || !strings.Contains(err.Error(), "6 records were acknowledged") { // its six zones
		t.Errorf("without a journal: %v", err)
	}
	err = console.Verify{NATS: url, Shop: "elsewhere", Proof: none}.Run(t.Context(), console.Out{W: io.Discard})
	if !fault.Is(err, "journal-not-found") {
		t.Errorf("without either: %v", err)
	}
}
