package rpc

import (
	"bytes"
	"context"
	"log/slog"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"
)

// A flood is one line a minute in the log, with how many were refused.
func TestAFloodDoesNotFillTheLog(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var out bytes.Buffer
		l := newLimiter(slog.New(slog.NewTextHandler(&out, nil)), 1)
		s := share{key: "k", name: "terminal bay-1", most: 1}
		if err := l.enter(t.Context(), s); err != nil {
			t.Fatal(err)
		}
		for range 90 {
			for range refusedFree {
				if l.enter(t.Context(), s) == nil {
					t.Fatal("a second call was let in")
				}
			}
			time.Sleep(time.Second) // of the bubble
		}
		lines := strings.Split(strings.TrimSpace(out.String()), "\n")
		if len(lines) != 2 || !strings.Contains(lines[0], "refused=1") || !strings.Contains(lines[1], "refused=1200") || !strings.Contains(lines[1], "terminal bay-1") {
			t.Errorf("%d lines:\n%s", len(lines), out.String())
		}
	})
}

// Refusals come at once until a client has got many of them in a second; then
// each waits a little, whatever it does, and a caller that goes away does not
// wait for it.
func TestWhoGoesOnCallingIsAnsweredLater(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLimiter(slog.New(slog.DiscardHandler), 1)
		s := share{key: "k", name: "terminal bay-1", most: 1}
		if err := l.enter(t.Context(), s); err != nil {
			t.Fatal(err)
		}
		took := func(ctx context.Context) time.Duration {
			begun := time.Now()
			if l.enter(ctx, s) == nil {
				t.Fatal("a second call was let in")
			}
			return time.Since(begun)
		}
		for range refusedFree {
			if d := took(t.Context()); d != 0 {
				t.Fatalf("a refusal took %s, want none", d)
			}
		}
		for range 10 {
			if d := took(t.Context()); d != paced {
				t.Fatalf("a refusal took %s, want %s", d, paced)
			}
		}
		gone, cancel := context.WithCancel(t.Context())
		cancel()
		if d := took(gone); d != 0 {
			t.Fatalf("a caller that is gone was made to wait %s", d)
		}
		time.Sleep(time.Second)
		if d := took(t.Context()); d != 0 {
			t.Fatalf("after a pause a refusal took %s", d)
		}
		l.leave(s)
		if err := l.enter(t.Context(), s); err != nil {
			t.Fatalf("after the first call was answered: %v", err)
		}
	})
}

// Whatever comes and goes, nobody has more in flight than its share, a refusal
// counts nothing, and when all have left nothing is kept.
func TestTheCountOfCallsCloses(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := newLimiter(slog.New(slog.DiscardHandler), 2)
		shares := []share{{"a", "a", 2}, {"b", "b", 1}, {"c", "c", 3}}
		flying := map[string]int{}
		var in [][]share
		for range rapid.IntRange(1, 60).Draw(t, "steps") {
			if len(in) > 0 && rapid.Bool().Draw(t, "leave") {
				i := rapid.IntRange(0, len(in)-1).Draw(t, "which")
				l.leave(in[i]...)
				for _, s := range in[i] {
					flying[s.key]--
				}
				in = append(in[:i], in[i+1:]...)
				continue
			}
			call := rapid.SliceOfNDistinct(rapid.SampledFrom(shares), 0, 3, func(s share) string { return s.key }).Draw(t, "call")
			fits := true
			for _, s := range call {
				fits = fits && flying[s.key] < s.most
			}
			if full, _ := l.take(call); (full == nil) != fits {
				t.Fatalf("%v with %v in flight: %v", call, flying, full)
			}
			if fits {
				in = append(in, call)
				for _, s := range call {
					flying[s.key]++
				}
			}
		}
		for _, call := range in {
			l.leave(call...)
		}
		if len(l.clients) != 0 {
			t.Fatalf("%v stays", l.clients)
		}
	})
}
