package journaltest

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"seamwright/services/fault"
	"seamwright/services/journal"
)

// stored is what a record looks like once it stands at number seq.
func stored(r journal.Record, seq uint64, source string) journal.Record {
	r.Seq, r.Source = seq, source
	return r
}

func readBack(t *testing.T, h *Harness) {
	j := h.Open(t)
	if last, err := j.Last(limit(t)); last != 0 || err != nil {
		t.Fatalf("an empty journal ends at %d, %v", last, err)
	}
	want := fill(t, j, 3)
	batch := []journal.Record{Record(t, "b1", 4), Record(t, "b2 ü%\"", 5), Record(t, "b3", 6)}
	if last, err := j.Append(limit(t), 3, batch...); last != 6 || err != nil {
		t.Fatalf("batch: %d, %v", last, err)
	}
	want = append(want, batch...)
	got := all(t, h.Open(t))
	if len(got) != len(want) {
		t.Fatalf("%d records, want %d", len(got), len(want))
	}
	for i := range want {
		if d := cmp.Diff(stored(want[i], uint64(i+1), got[0].Source), got[i]); d != "" {
			t.Errorf("record %d (-appended +read):\n%s", i+1, d)
		}
	}
	if !strings.HasPrefix(got[0].Source, "/shops/") {
		t.Errorf("source %q names no shop", got[0].Source)
	}
	var part []uint64
	err := j.Read(limit(t), 2, 4, func(r journal.Record) error { part = append(part, r.Seq); return nil })
	if d := cmp.Diff([]uint64{2, 3, 4}, part); d != "" || err != nil {
		t.Errorf("records 2 to 4: %v\n%s", err, d)
	}
}

func largest(t *testing.T, h *Harness) {
	j := h.Open(t)
	r := Record(t, strings.Repeat("ä", journal.MaxID/2), 1)
	r.Aggregate = strings.Repeat("ä", journal.MaxAggregate/2)
	r.Payload = bytes.Repeat([]byte{0xA5}, journal.MaxPayload)
	room := journal.MaxAttrs - len("actor")
	for name, v := range r.Attrs {
		if name != "actor" {
			room -= len(name) + len(v)
		}
	}
	r.Attrs["actor"] = strings.Repeat("ä", room/2)
	if _, err := j.Append(limit(t), 0, r); err != nil {
		t.Fatal(err)
	}
	got := all(t, j)
	if len(got) != 1 || !got[0].Same(r) {
		t.Errorf("%d records came back, or not as they were appended", len(got))
	}
}

func illFormed(t *testing.T, h *Harness) {
	j := h.Open(t)
	good := Record(t, "good", 1)
	for name, alter := range map[string]func(*journal.Record){
		"no id":              func(r *journal.Record) { r.ID = "" },
		"id with a line end": func(r *journal.Record) { r.ID = "a\r\nNats-Msg-Id: b" },
		"no type":            func(r *journal.Record) { r.Type = "" },
		"empty token":        func(r *journal.Record) { r.Aggregate = "seam..x" },
		"wildcard":           func(r *journal.Record) { r.Aggregate = "seam.>" },
		"blank":              func(r *journal.Record) { r.Aggregate = "seam.a b" },
		"no time":            func(r *journal.Record) { r.Time = time.Time{} },
		"payload too large":  func(r *journal.Record) { r.Payload = make([]byte, journal.MaxPayload+1) },
		"attribute's name":   func(r *journal.Record) { r.Attrs = map[string]string{"Actor": "x"} },
		"attribute's value":  func(r *journal.Record) { r.Attrs = map[string]string{"actor": "\xff"} },
		"id twice":           func(r *journal.Record) { r.ID = "good" },
	} {
		bad := Record(t, "bad", 2)
		alter(&bad)
		if _, err := j.Append(limit(t), 0, good, bad); fault.KindOf(err) != fault.Invalid {
			t.Errorf("%s: %v, want an invalid fault", name, err)
		}
	}
	if got := all(t, j); len(got) != 0 {
		t.Errorf("%d records of refused appends are stored", len(got))
	}
}

// race has several writers with handles of their own try for every number.
func race(t *testing.T, h *Harness) {
	const writers, each = 3, 40
	won := make([][]string, writers) // by writer: "seq id"
	var wg sync.WaitGroup
	for w := range writers {
		j := h.Open(t)
		ctx := limit(t)
		wg.Go(func() {
			var at uint64
			for i := 0; i < each; {
				id := fmt.Sprintf("w%d-%d", w, i)
				last, err := j.Append(ctx, at, Record(t, id, i))
				c, moved := errors.AsType[*journal.ConflictError](err)
				switch {
				case err == nil && last == at+1:
					won[w] = append(won[w], fmt.Sprintf("%d %s", last, id))
					at = last
					i++
				case moved && c.Expect == at && (c.Last == 0 || c.Last > at):
					at = max(at+1, c.Last)
				default:
					t.Errorf("append behind %d: %d, %v", at, last, err)
					return
				}
			}
		})
	}
	wg.Wait()
	winners := make(map[string]bool)
	for _, list := range won {
		for _, win := range list {
			winners[win] = true
		}
	}
	got := all(t, h.Open(t))
	if len(got) != writers*each || len(winners) != writers*each {
		t.Fatalf("%d records, %d wins, want %d of both", len(got), len(winners), writers*each)
	}
	for _, r := range got {
		if !winners[fmt.Sprintf("%d %s", r.Seq, r.ID)] {
			t.Errorf("record %d is %s, whose writer was told otherwise", r.Seq, r.ID)
		}
	}
}

func atomic(t *testing.T, h *Harness) {
	j := h.Open(t)
	fill(t, j, 2)
	batch := []journal.Record{Record(t, "x", 1), Record(t, "y", 2), Record(t, "z", 3)}
	for _, expect := range []uint64{0, 1, 3, 9} {
		_, err := j.Append(limit(t), expect, batch...)
		if c, ok := errors.AsType[*journal.ConflictError](err); !ok || c.Expect != expect || (c.Last != 0 && c.Last != 2) {
			t.Errorf("batch behind %d of 2: %v, want a conflict", expect, err)
		}
	}
	if last, err := j.Append(limit(t), 2, batch...); err != nil || last != 5 {
		t.Fatalf("batch: %d, %v", last, err)
	}
	again := []journal.Record{Record(t, "p", 1), Record(t, "q", 2), Record(t, "y", 3)}
	_, err := j.Append(limit(t), 5, again...)
	if e, ok := errors.AsType[*journal.TakenError](err); !ok || e.ID != "y" || e.Seq != 4 {
		t.Errorf("batch with a known id: %v, want that y is taken at 4", err)
	}
	_, err = j.Append(limit(t), 2, batch...)
	if e, ok := errors.AsType[*journal.TakenError](err); !ok || e.ID != "x" || e.Seq != 3 {
		t.Errorf("the same batch again: %v, want that x is taken at 3", err)
	}
	if got := all(t, j); len(got) != 5 {
		t.Errorf("%d records, want 5", len(got))
	}
	many := make([]journal.Record, journal.MaxBatch)
	for i := range many {
		many[i] = Record(t, fmt.Sprintf("many-%d", i), i)
	}
	if last, err := j.Append(limit(t), 5, many...); err != nil || last != 5+journal.MaxBatch {
		t.Errorf("the largest batch: %d, %v", last, err)
	}
	if _, err := j.Append(limit(t), 5+journal.MaxBatch, append(many, Record(t, "one-more", 1))...); fault.KindOf(err) != fault.Invalid {
		t.Errorf("a batch beyond the limit: %v", err)
	}
}

func duplicate(t *testing.T, h *Harness) {
	j := h.Open(t)
	recs := fill(t, j, 3)
	for _, c := range []struct{ expect, seq uint64 }{{1, 2}, {3, 2}, {3, 3}, {2, 3}, {0, 1}} {
		_, err := j.Append(limit(t), c.expect, recs[c.seq-1])
		if e, ok := errors.AsType[*journal.TakenError](err); !ok || e.Seq != c.seq || e.ID != recs[c.seq-1].ID {
			t.Errorf("record %d again behind %d: %v", c.seq, c.expect, err)
		}
		if fault.KindOf(err) != fault.Exists {
			t.Errorf("kind %v, want exists", fault.KindOf(err))
		}
	}
	// The same id for something else, behind an old number: either error.
	other := Record(t, recs[0].ID, 99)
	if _, err := j.Append(limit(t), 1, other); fault.KindOf(err) != fault.Exists && fault.KindOf(err) != fault.Conflict {
		t.Errorf("another record with a known id: %v", err)
	}
	if got := all(t, j); len(got) != 3 {
		t.Errorf("%d records, want 3", len(got))
	}
}
