package floortest_test

import (
	"path/filepath"
	"testing"
	"time"

	"seamwright/services/floor"
	"seamwright/services/floor/floortest"
)

// TestScenarios plays every scenario in the bare floor, and then folds its
// journal again: replay and live state are the same.
func TestScenarios(t *testing.T) {
	files, err := filepath.Glob("../../../testdata/scenarios/*.txt")
	if err != nil || len(files) == 0 {
		t.Fatalf("no scenarios: %v", err)
	}
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) {
			var core *floortest.Core
			floortest.Run(t, file, func(at time.Time) (floortest.Shop, error) {
				core = floortest.NewCore(at)
				return core, nil
			})
			core.Look(func(live *floor.Floor) {
				again := floor.New()
				for _, ev := range core.Events() {
					if err := again.Apply(ev); err != nil {
						t.Fatalf("event %d: %v", ev.Seq, err)
					}
				}
				if live.Hash() != again.Hash() {
					t.Error("the journal folds to another floor than the live one")
				}
			})
		})
	}
}
