package app_test

import (
	"context"
	"crypto/sha256"
	"flag"
	"fmt"
	"io/fs"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"seamwright/services/app"
	"seamwright/services/clock"
	"seamwright/services/fault"
	"seamwright/services/journal"
	"seamwright/services/journal/tree"
)

var (
	damages    = flag.Int("damage.count", 200, "how many times a stopped shop's folder is damaged")
	damageSeed = flag.Uint64("damage.seed", 1, "seed of the damages")
)

// within is how long a damage may take to be found.
const within = 60 * time.Second

// kept is a stopped shop's folder and what its journal said.
type kept struct {
	dir     string
	at      time.Time
	records int
	digest  string
	hash    string // of the floor
	files   []string
}

func keep(t *testing.T, seed uint64, records int) kept {
	t.Helper()
	k := kept{dir: shopFolder(t), records: records}
	s := keptShop(t, k.dir, seed, records)
	k.at = s.Now()
	a, err := k.open(t, k.dir)
	if err != nil {
		t.Fatal(err)
	}
	k.digest, k.hash = readBack(t, a), hash(a)
	if err := a.Stop(); err != nil {
		t.Fatal(err)
	}
	for _, part := range []string{app.StoreFolder(k.dir), app.ProofFolder(k.dir)} {
		if err := filepath.WalkDir(part, func(path string, d fs.DirEntry, err error) error {
			if err == nil && !d.IsDir() && d.Name() != "in-use" {
				rel, _ := filepath.Rel(k.dir, path)
				k.files = append(k.files, rel)
			}
			return err
		}); err != nil {
			t.Fatal(err)
		}
	}
	slices.Sort(k.files)
	return k
}

// open starts the shop in a folder.
func (k kept) open(t *testing.T, dir string) (*app.App, error) {
	t.Helper()
	a, err := app.New(app.Options{Dir: dir, Log: quiet(), Clock: clock.NewDriven(k.at)})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), within)
	defer cancel()
	return a, a.Start(ctx)
}

// readBack is a digest of every byte that the journal gives back.
func readBack(t *testing.T, a *app.App) string {
	t.Helper()
	h := sha256.New()
	if err := a.Journal().Read(t.Context(), 1, journal.End, func(r journal.Record) error {
		fmt.Fprintf(h, "%d %d %s", r.Seq, len(r.Payload), journal.Canonical(r))
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	return fmt.Sprintf("%x", h.Sum(nil))
}

// damage is one thing that befell a folder.
type damage struct {
	what  string
	kind  string // of file
	apply func(dir string) error
}

// turns are the kinds of what is damaged, as often as they have their turn.
var turns = []string{"block", "index", "block", "meta.inf", "block", "meta.sum", "block", "head", "block", "leaves", "folder"}

// draw makes up the n-th damage.
func (k kept) draw(dice *rand.Rand, n int) damage {
	d := damage{kind: turns[n%len(turns)]}
	at, bit, killed := dice.Float64(), dice.IntN(8), dice.IntN(2) == 0 && d.kind != "index"
	file := k.pick(dice, d.kind)
	change := func(path string) error {
		b, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		b[int(at*float64(len(b)))] ^= 1 << bit
		return os.WriteFile(path, b, 0o600)
	}
	switch way := dice.IntN(6); {
	case d.kind == "folder" || way == 0:
		d.what, change = "deleted "+file, os.RemoveAll
	case way < 3:
		d.what = fmt.Sprintf("cut %s at %.4f of it", file, at)
		change = func(path string) error {
			info, err := os.Stat(path)
			if err != nil {
				return err
			}
			return os.Truncate(path, int64(at*float64(info.Size())))
		}
	default:
		d.what = fmt.Sprintf("bit %d flipped in %s at %.6f of it", bit, file, at)
	}
	if killed {
		d.what += ", without the store's index, as after a power cut"
	}
	index := k.pick(dice, "index")
	d.apply = func(dir string) error {
		if killed {
			if err := os.Remove(filepath.Join(dir, index)); err != nil {
				return err
			}
		}
		return change(filepath.Join(dir, file))
	}
	return d
}

// pick draws a file or folder of a kind. There is one index.
func (k kept) pick(dice *rand.Rand, kind string) string {
	var of []string
	for _, f := range k.files {
		switch base := filepath.Base(f); {
		case kind == "folder" && base == "index.db":
			of = append(of, filepath.Dir(f), filepath.Dir(filepath.Dir(f)))
		case kind == "folder" && base == "head":
			of = append(of, filepath.Dir(f))
		case kind == base, kind == "block" && strings.HasSuffix(base, ".blk"), kind == "index" && base == "index.db":
			of = append(of, f)
		}
	}
	if len(of) == 1 {
		return of[0]
	}
	return of[dice.IntN(len(of))]
}

// TestEveryDamageIsFoundOrHarmless damages a stopped shop's folder: a bit is
// flipped, a file is cut or gone, of the store and of the proof. Each damage
// is either named at the start, which is refused, or the store had that file
// only to be faster: then every byte of the journal comes back, and the proof
// still proves it.
func TestEveryDamageIsFoundOrHarmless(t *testing.T) {
	small, large := keep(t, 1, 2000), keep(t, 2, 13_000) // one block file, and two
	if blocks := strings.Count(strings.Join(large.files, " "), ".blk"); blocks != 2 {
		t.Fatalf("the large journal has %d block files, the test wants two", blocks)
	}
	dice := rand.New(rand.NewPCG(*damageSeed, 2))
	var mu sync.Mutex
	counts := map[string]int{}
	t.Run("damages", func(t *testing.T) {
		for n := range *damages {
			k := small
			if n%25 == 0 || n%25 == 10 { // a block, and a folder
				k = large
			}
			d := k.draw(dice, n)
			t.Run(fmt.Sprintf("%d of seed %d: %s", n, *damageSeed, d.what), func(t *testing.T) {
				t.Parallel()
				outcome := k.try(t, d)
				mu.Lock()
				defer mu.Unlock()
				counts[outcome]++
				counts[outcome+": "+d.kind]++
			})
		}
	})
	for _, c := range slices.Sorted(maps.Keys(counts)) {
		t.Logf("%4d %s", counts[c], c)
	}
	if counts["harmless: block"]+counts["harmless: folder"] > 0 {
		t.Error("a damaged block is never harmless")
	}
}

// names is how a start says what is wrong: records by number, or the head of
// the proof over how many.
var names = regexp.MustCompile(`^(Records? [0-9]+ |The journal is gone: |The journal ends at record [0-9]+, but [0-9]+ were acknowledged|The head over [0-9]+ records|[0-9]+ records stand without )`)

// try damages a copy of the folder and says what came of it.
func (k kept) try(t *testing.T, d damage) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "shop")
	if err := os.CopyFS(dir, os.DirFS(k.dir)); err != nil {
		t.Fatal(err)
	}
	if err := d.apply(dir); err != nil {
		t.Fatal(err)
	}
	a, err := k.open(t, dir)
	if err != nil {
		if fault.KindOf(err) != fault.Corrupt || !names.MatchString(err.Error()) {
			t.Errorf("the start does not name what is damaged: %v", err)
		}
		return "named"
	}
	defer func() {
		if err := a.Stop(); err != nil {
			t.Error(err)
		}
	}()
	if got := readBack(t, a); got != k.digest || hash(a) != k.hash {
		t.Error("the shop opened with another journal")
	}
	rep, err := tree.Verify(t.Context(), a.Journal(), app.ProofFolder(dir))
	if err != nil || !rep.OK() || rep.Checked != uint64(k.records) {
		t.Errorf("the shop opened without its proof: %v %v", err, rep.Sentences())
	}
	return "harmless"
}
