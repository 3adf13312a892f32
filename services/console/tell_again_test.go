package console_test

import (
	"bytes"
	"context"
	"fmt"
	"net"
	"regexp"
	"strings"
	"sync/atomic"
	"testing"

	"seamwright/services/console"
	"seamwright/services/fault"
)

// mute is a way to a shop on which no answer comes back once a word was sent
// on it; when the shop has recorded it, the way is cut.
func mute(t *testing.T, to, word string, recorded func()) (addr string) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	go func() {
		for {
			near, err := l.Accept()
			if err != nil {
				return
			}
			far, err := net.Dial("tcp", to)
			if err != nil {
				near.Close()
				continue
			}
			var silent atomic.Bool
			pass := func(dst, src net.Conn, look func([]byte)) {
				defer dst.Close()
				defer src.Close()
				b := make([]byte, 64<<10)
				for {
					n, err := src.Read(b)
					if err != nil {
						return
					}
					look(b[:n])
					if dst == near && silent.Load() {
						continue
					}
					if _, err := dst.Write(b[:n]); err != nil {
						return
					}
				}
			}
			go pass(near, far, func([]byte) {})
			go pass(far, near, func(b []byte) {
				if !bytes.Contains(b, []byte(word)) {
					return
				}
				silent.Store(true)
				if _, err := far.Write(b); err == nil {
					recorded()
				}
				near.Close() // nothing more goes either way
			})
		}
	}()
	return l.Addr().String()
}

// A fact whose answer did not come is told with the id under which it counts
// once, however often it is told again.
func TestAFactWithoutAnAnswerIsToldAgainAndCountsOnce(t *testing.T) {
	a, at, _ := shop(t)
	run(t, console.Import{At: at, Products: demo(at).Products, Lots: "../../testdata/shop/lots.csv"})
	before := a.Desk().Writer.Seq()
	cut := console.At{Address: mute(t, at.Address, "lumps in the muted one", func() {
		_ = a.Desk().Writer.WaitFor(context.Background(), before+1)
	})}
	_, err := telling(t, console.Tell{At: cut}, "lot-recalled", "lot_id=MG-2507", "why=lumps in the muted one")
	if !fault.Is(err, "tell-unsure") || !strings.Contains(err.Error(), "whether it was recorded is not known") {
		t.Fatalf("without an answer: %v", err)
	}
	m := regexp.MustCompile(`--id (\S+) `).FindStringSubmatch(err.Error())
	if m == nil {
		t.Fatalf("no id is told: %v", err)
	}
	stood := a.Desk().Writer.Seq()
	if stood != before+1 {
		t.Fatalf("the journal stands at %d, before it was at %d", stood, before)
	}
	for range 2 {
		out, err := telling(t, console.Tell{At: at, ID: m[1]}, "lot-recalled", "lot_id=MG-2507", "why=lumps in the muted one")
		if err != nil || a.Desk().Writer.Seq() != stood || !strings.HasPrefix(out, fmt.Sprintf("stood already as #%d: ", stood)) {
			t.Errorf("told again: %v, %q; the journal stands at %d, was at %d", err, out, a.Desk().Writer.Seq(), stood)
		}
	}
	if _, err := telling(t, console.Tell{At: at, ID: "short"}, "lot-recalled", "lot_id=MG-2507", "why=x"); err == nil || !strings.HasPrefix(err.Error(), "--id: short: ") {
		t.Errorf("an id that is none: %v", err)
	}
	// Where nothing was sent, nothing is in doubt.
	if _, err := telling(t, console.Tell{At: console.At{Address: "127.0.0.1:1"}}, "lot-recalled", "lot_id=MG-2507", "why=x"); !fault.Is(err, "shop-not-running") {
		t.Errorf("where no shop runs: %v", err)
	}
}
