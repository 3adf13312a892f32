package memory_test

import (
	"testing"

	"seamwright/services/journal"
	"seamwright/services/journal/journaltest"
	"seamwright/services/journal/memory"
)

func TestConformance(t *testing.T) {
	journaltest.Run(t, func(t *testing.T, o journaltest.Options) *journaltest.Harness {
		opts := memory.Options{}
		if o.ForgetSoon {
			opts.Remember = 4
		}
		j := memory.New(opts)
		return &journaltest.Harness{
			Open: func(*testing.T) journal.Journal { return j },
			Lose: func(_ *testing.T, seq, _ uint64) { j.Lose(seq) },
		}
	})
}
