package floor_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/floor"
	"seamwright/services/floor/floortest"
)

// A reach that leaves something out is found out: for each kind of key, by
// commands that write such keys before commands that read them.
func TestAWrongReachIsFoundOut(t *testing.T) {
	for kind, types := range map[string]struct{ first, then string }{
		"seam":      {"SeamPlanned DoneElsewhere", "SeamInspected DoneElsewhere SeamPlanned"},
		"job":       {"JobOpened", "BeadLaid"},
		"where":     {"CarMoved PanelMoved", "WaterTested CoatApplied StageObserved BeadTooled"},
		"panels":    {"SeamSurveyed", "BeadLaid BeadTooled WaterTested CoatApplied"},
		"air":       {"ReadingTaken", "BeadLaid BeadTooled WaterTested"},
		"cartridge": {"NozzleFitted CartridgePurged CartridgeOpened", "BeadLaid CartridgePurged"},
		"nozzle":    {"NozzleRemoved NozzleFitted", "BeadLaid CartridgePurged"},
	} {
		t.Run("without "+kind, func(t *testing.T) {
			forgets := func(f *floor.Floor, ev floor.Event) (reads, writes []string, alone bool) {
				reads, writes, alone = f.Reach(ev)
				reads = slices.DeleteFunc(slices.Clone(reads), func(k string) bool { return strings.HasPrefix(k, kind+"/") })
				return reads, writes, alone
			}
			if !found(t, forgets, types.first, types.then) {
				t.Errorf("a reach that forgets every %s went through", kind)
			}
			if found(t, realReach, types.first, types.then) {
				t.Error("and the real one does not hold, either")
			}
		})
	}
	t.Run("late facts together", func(t *testing.T) {
		late := func(f *floor.Floor, ev floor.Event) (reads, writes []string, alone bool) {
			if reads, writes, alone = f.Reach(ev); alone {
				reads, writes = []string{ev.Aggregate}, []string{ev.Aggregate}
			}
			return reads, writes, false
		}
		if !found(t, late, "BeadLaid NozzleFitted CartridgeOpened", "BeadLaid NozzleFitted CartridgePurged SeamReworked") {
			t.Error("a reach by the aggregate alone went through")
		}
	})
}

// found reports whether a reach is caught by commands of some types before
// those of others, all over some crowds.
func found(t *testing.T, reach floortest.Reach, first, then string) bool {
	t.Helper()
	all := streams(t)
	for n, s := range all[len(all)-crowds:] {
		crowd := floortest.NewCrowd(uint64(n)+100, 3)
		draw := func(types string, n int) (out []floortest.Told) {
			for len(out) < n {
				c := crowd.Next()
				c.Stamp.CommandId += "-drawn"
				if slices.Contains(strings.Fields(types), string(c.Body.ProtoReflect().Descriptor().Name())) {
					if len(out)%2 == 0 {
						c.Stamp.Age = &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_MEASURED, Length: durationpb.New(time.Duration(1+len(out)) * time.Minute)}
					}
					out = append(out, floortest.Told{Command: c})
				}
			}
			return out
		}
		for i := 60; i < len(s.told); i += 20 {
			wrong, err := reach.Before(s.events[:s.behind[i]], draw(first, 8), draw(then, 15), map[string]int{})
			if err != nil {
				t.Fatal(err)
			}
			if len(wrong) > 0 {
				return true
			}
		}
	}
	return false
}
