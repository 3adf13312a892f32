package feed_test

import (
	"io"
	"slices"
	"testing"

	"seamwright/services/app"
	"seamwright/services/console"
	"seamwright/services/screens"
)

// A terminal that a running shop is told of is offered, and its page opens,
// though no list of people names it.
func TestAnEnrolledTerminalIsOffered(t *testing.T) {
	s := open(t, app.Options{}, false)
	at := console.At{Address: s.app.Addr().GRPC}
	must(t, console.Terminal{At: at, ID: "spare-tablet", Zone: "bay-2"}.Run(t.Context(), console.Out{W: io.Discard}))
	all, err := s.src.Terminals(t.Context())
	must(t, err)
	i := slices.IndexFunc(all, func(n screens.Named) bool { return n.ID == "spare-tablet" })
	if i < 0 || all[i].Name != "Bay 2 · spare tablet" {
		t.Errorf("%+v", all)
	}
	if n := len(all); n != 6 { // five of the list
		t.Errorf("%d terminals: %+v", n, all)
	}
	b, err := s.src.Bay(t.Context(), "spare-tablet", "", "")
	must(t, err)
	if b.Terminal != "spare-tablet" || b.Zone != "Bay 2" {
		t.Errorf("the bay page stands at %q in %q", b.Terminal, b.Zone)
	}
}
