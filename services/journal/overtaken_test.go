package journal_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"

	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/journal"
	"seamwright/services/journal/journaltest"
	"seamwright/services/journal/memory"
)

// asked is a journal that counts how often it is asked for its end.
type asked struct {
	*memory.Journal
	n    int
	fail error
}

func (a *asked) Last(ctx context.Context) (uint64, error) {
	a.n++
	if a.fail != nil {
		return 0, a.fail
	}
	return a.Journal.Last(ctx)
}

// What came to nothing on a fold that another process had overtaken is
// decided again at the journal's end; what is ill-formed is not.
func TestWhatComesToNothingStandsAtTheJournalsEnd(t *testing.T) {
	unknown := fault.Missing("job", "2207", "open it first")
	for name, c := range map[string]struct {
		first error // nil: nothing to be stored
		at    []uint64
		asked int
	}{
		"a thing that is not known":   {unknown, []uint64{0, 2}, 1},
		"a thing that is there":       {fault.New(fault.Exists, "there", "it is there", ""), []uint64{0, 2}, 1},
		"a permission":                {fault.New(fault.Refused, "held", "it is held", ""), []uint64{0, 2}, 1},
		"nothing to be stored":        {nil, []uint64{0, 2}, 1},
		"what is ill-formed":          {fault.Bad("fact", "nothing", "a fact"), []uint64{0}, 0},
		"what a decision cannot know": {errors.New("broken"), []uint64{0}, 0},
	} {
		j := &asked{Journal: memory.New(memory.Options{})}
		w := journal.NewWriter(j, journaltest.NewFold())
		for i := range uint64(2) { // by another process
			if _, err := j.Append(t.Context(), i, journaltest.Record(t, fmt.Sprint("other", i), int(i))); err != nil {
				t.Fatal(err)
			}
		}
		var at []uint64
		seq, err := w.Do(t.Context(), func(seq uint64) ([]floor.Event, error) {
			at = append(at, seq)
			if seq == 0 {
				return nil, c.first
			}
			return one("mine")(seq)
		})
		if !slices.Equal(at, c.at) || j.n != c.asked {
			t.Errorf("%s: decided at %v and asked %d times, want %v and %d", name, at, j.n, c.at, c.asked)
		}
		if len(c.at) == 2 && (seq != 3 || err != nil) || len(c.at) == 1 && !errors.Is(err, c.first) {
			t.Errorf("%s: %d, %v", name, seq, err)
		}
	}
}

// A refusal at the journal's end, or from a journal that does not answer, goes
// out as it is.
func TestARefusalThatNobodyOvertookStands(t *testing.T) {
	for name, fail := range map[string]error{"at the end": nil, "no answer": fault.New(fault.Unavailable, "away", "it is away", "")} {
		j := &asked{Journal: memory.New(memory.Options{}), fail: fail}
		w := journal.NewWriter(j, journaltest.NewFold())
		tries := 0
		_, err := w.Do(t.Context(), func(uint64) ([]floor.Event, error) {
			tries++
			return nil, fault.Missing("job", "2207", "open it first")
		})
		if fault.KindOf(err) != fault.NotFound || tries != 1 || j.n != 1 {
			t.Errorf("%s: %v after %d tries, asked %d times", name, err, tries, j.n)
		}
	}
}
