package floor_test

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/durationpb"
	"pgregory.net/rapid"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/floor"
	"seamwright/services/floor/floortest"
)

// realReach is the floor's own.
func realReach(f *floor.Floor, ev floor.Event) (reads, writes []string, alone bool) {
	return f.Reach(ev)
}

// stream is what happened in one shop, and the facts of it as they were told.
type stream struct {
	name   string
	events []floor.Event
	told   []floortest.Told
	behind []int // how many events the floor had when each was told
}

// streams are those of all scenarios and of some crowds, each played once.
func streams(t *testing.T) []stream {
	t.Helper()
	files, err := filepath.Glob(scenarios + "/*.txt")
	if err != nil || len(files) < 20 {
		t.Fatalf("%d scenarios (%v), want at least 20", len(files), err)
	}
	playing.Do(func() {
		for _, file := range files {
			allStreams = append(allStreams, streamOf(t, file))
		}
		for seed := range uint64(crowds) {
			allStreams = append(allStreams, crowded(t, seed))
		}
	})
	return allStreams
}

// crowds is how many crowds there are, behind the scenarios.
const crowds = 4

var (
	playing    sync.Once
	allStreams []stream
)

func streamOf(t *testing.T, file string) stream {
	t.Helper()
	var core *floortest.Core
	floortest.Run(t, file, func(at time.Time) (floortest.Shop, error) {
		core = floortest.NewCore(at)
		return core, nil
	})
	return retold(filepath.Base(file), core.Events())
}

// crowded is a shop in which many hands work on a handful of things.
func crowded(t *testing.T, seed uint64) stream {
	t.Helper()
	crowd, core := floortest.NewCrowd(seed, 3), floortest.NewCore(time.Date(2026, 3, 2, 7, 30, 0, 0, time.UTC))
	core.Quiet = true
	tell := func(c floor.Command) {
		if _, err := core.Tell(c); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range crowd.Furnish() {
		tell(c)
	}
	for range 250 {
		if err := core.Advance(core.Now().Add(crowd.Wait())); err != nil {
			t.Fatal(err)
		}
		tell(crowd.Next())
	}
	return retold(fmt.Sprintf("crowd %d", seed), core.Events())
}

func retold(name string, events []floor.Event) stream {
	s := stream{name: name, events: events}
	for i, ev := range s.events {
		if c, ok := floortest.Retell(ev); ok {
			s.told, s.behind = append(s.told, floortest.Told{Command: c, At: ev.Received}), append(s.behind, i)
		}
	}
	return s
}

// shake gives a command another age, and other things to be about: those that
// other commands of its stream name in a field of the same name.
func shake(r *rand.Rand, s stream, c floortest.Told) floortest.Told {
	c.Stamp = proto.CloneOf(c.Stamp)
	c.Stamp.CommandId += "-shaken"
	c.Body = proto.Clone(c.Body)
	switch r.IntN(4) {
	case 0:
		c.Stamp.Age = &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE}
	case 1:
		c.Stamp.Age = &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_MEASURED, Length: durationpb.New(time.Duration(r.IntN(40)) * time.Minute)}
	}
	m := c.Body.ProtoReflect()
	fields := m.Descriptor().Fields()
	for i := range fields.Len() {
		f := fields.Get(i)
		if n := string(f.Name()); f.Kind() != protoreflect.StringKind || f.IsList() || n != "ro" && !strings.HasSuffix(n, "_id") || r.IntN(2) == 0 {
			continue
		}
		other := s.told[r.IntN(len(s.told))].Body.ProtoReflect()
		if g := other.Descriptor().Fields().ByName(f.Name()); g != nil && g.Kind() == f.Kind() && !g.IsList() {
			m.Set(f, other.Get(g))
		}
	}
	return c
}

// window is some commands of a stream from a place on, in any order, some of
// them shaken.
func window(r *rand.Rand, s stream, from, length int) []floortest.Told {
	out := slices.Clone(s.told[from:min(from+length, len(s.told))])
	r.Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
	for i := range out {
		if r.IntN(2) == 0 {
			out[i] = shake(r, s, out[i])
		}
	}
	return out
}

// pairs puts commands before others all over the streams, and gives how many
// pairs of which kinds were compared and what was wrong.
func pairs(t *testing.T, reach floortest.Reach, seed uint64, step int) (map[string]int, []string) {
	t.Helper()
	count, r := map[string]int{}, rand.New(rand.NewPCG(seed, 1))
	var wrong []string
	for _, s := range streams(t) {
		for i := r.IntN(step); i < len(s.told); i += step {
			w, err := reach.Before(s.events[:s.behind[i]], window(r, s, i, 12), window(r, s, i, 24), count)
			if err != nil {
				t.Fatalf("%s: %v", s.name, err)
			}
			wrong = append(wrong, w...)
		}
	}
	return count, wrong
}

// What Reach says of two commands holds: one that does not read what the
// others write is decided to the same bytes behind them.
func TestWhatReachKeepsApartIsDecidedAlike(t *testing.T) {
	count, wrong := pairs(t, realReach, 1, 10)
	total := 0
	for _, k := range slices.Sorted(maps.Keys(count)) {
		t.Logf("%6d %s", count[k], k)
		total += count[k]
	}
	t.Logf("%6d pairs of %d kinds", total, len(count))
	if total < 5000 || len(count) < 150 {
		t.Errorf("%d pairs of %d kinds, want at least 5000 of 150", total, len(count))
	}
	for _, w := range wrong[:min(len(wrong), 5)] {
		t.Error(w)
	}
}

// Commands that do not meet at all make the same floor in either order.
func TestWhatDoesNotMeetMayStandEitherWay(t *testing.T) {
	r, compared := rand.New(rand.NewPCG(2, 2)), 0
	for _, s := range streams(t) {
		for i := r.IntN(10); i < len(s.told); i += 10 {
			w := window(r, s, i, 20)
			for j := 1; j < len(w) && j < 6; j++ {
				ok, wrong, err := floortest.Reach(realReach).BothWays(s.events[:s.behind[i]], w[0], w[j])
				if err != nil {
					t.Fatalf("%s: %v", s.name, err)
				}
				if wrong != "" {
					t.Errorf("%s: %s", s.name, wrong)
				}
				if ok {
					compared++
				}
			}
		}
	}
	t.Logf("%d pairs", compared)
	if compared < 500 {
		t.Errorf("%d pairs, want at least 500", compared)
	}
}

// Any commands at any place.
func TestReachHoldsForAnyCommands(t *testing.T) {
	all := streams(t)
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.SampledFrom(all).Draw(t, "scenario")
		i := rapid.IntRange(0, len(s.told)-1).Draw(t, "place")
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "chance"), 3))
		count := map[string]int{}
		wrong, err := floortest.Reach(realReach).Before(s.events[:s.behind[i]], window(r, s, i, 8), window(r, s, max(0, i-8), 16), count)
		if err != nil {
			t.Fatal(err)
		}
		if len(wrong) > 0 {
			t.Error(wrong[0])
		}
	})
}
