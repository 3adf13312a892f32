package sim_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"seamwright/services/sim"
)

var (
	slipsAll   = flag.Bool("slips.all", false, "build the program with each slip, not with a few of them")
	slipsNamed = flag.String("slips.named", "", "build the program with the slips whose names hold this text")
	slipsYears = flag.Int("slips.years", 100, "the most shop-years that a slip may take to be found")
)

// root is the module's folder.
const root = "../../"

// Every slip's text stands in the source exactly once, and its replacement
// is another one: what is planted is planted.
func TestSlipsStandInTheSource(t *testing.T) {
	names := map[string]bool{}
	for _, s := range slips() {
		if names[s.name] {
			t.Errorf("two slips are called %q", s.name)
		}
		names[s.name] = true
		if _, err := s.patched(); err != nil {
			t.Error(err)
		}
	}
	if len(names) < 25 {
		t.Errorf("%d slips, want 25 at least", len(names))
	}
}

// patched is the file with the slip in it.
func (s slip) patched() ([]byte, error) {
	src, err := os.ReadFile(filepath.Join(root, s.file))
	if err != nil {
		return nil, err
	}
	if n := bytes.Count(src, []byte(s.old)); n != 1 || s.old == s.new {
		return nil, fmt.Errorf("slip %q: its text stands in %s %d times, want once; write the slip into the source as it is now:\n%s", s.name, s.file, n, s.old)
	}
	return bytes.Replace(src, []byte(s.old), []byte(s.new), 1), nil
}

// chosen are the slips of this run: all, those named, or the quick ones.
func chosen() []slip {
	return slices.DeleteFunc(slips(), func(s slip) bool {
		switch {
		case *slipsNamed != "":
			return !strings.Contains(s.name, *slipsNamed)
		case *slipsAll:
			return false
		}
		return !s.quick
	})
}

// The program is built with one slip after another, by an overlay of its
// source, and soaked until something is found wrong. The program without a
// slip is soaked by the tests of package console.
func TestSlipsAreFound(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the program for each slip")
	}
	if _, err := exec.LookPath("go"); err != nil {
		t.Skip("wants the go command")
	}
	picked := chosen()
	if len(picked) == 0 {
		t.Fatal("no slip is chosen")
	}
	for _, s := range picked {
		t.Run(strings.ReplaceAll(s.name, " ", "-"), func(t *testing.T) {
			begun := time.Now()
			f := s.soaked(t, *slipsYears)
			if f.what == "" {
				t.Errorf("%q is not found in %d shop-years", s.name, *slipsYears)
				return
			}
			t.Logf("| %s | %s | %d | %s | %s (before: %s in %d)", s.name, f.what, f.years, time.Since(begun).Round(time.Second), f.text, s.by, s.years)
		})
	}
}

// found is what a soak found.
type found struct {
	what, text string // empty: nothing
	years      int    // shop-years up to it, that one included
}

// soaked builds the program with the slip and runs shops until something is
// wrong.
func (s slip) soaked(t *testing.T, years int) found {
	t.Helper()
	src, err := s.patched()
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	file, err := filepath.Abs(filepath.Join(root, s.file))
	if err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(dir, "slip.go"), src)
	overlay, err := json.Marshal(map[string]any{"Replace": map[string]string{file: filepath.Join(dir, "slip.go")}})
	if err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(dir, "overlay.json"), overlay)
	program := filepath.Join(dir, "seamwright")
	build := exec.CommandContext(t.Context(), "go", "build", "-overlay", filepath.Join(dir, "overlay.json"), "-o", program, "./cmd/seamwright")
	build.Dir = root
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("the program with the slip %q does not build: %v\n%s", s.name, err, out)
	}
	var answer, trouble bytes.Buffer
	run := exec.CommandContext(t.Context(), program, "--json", "soak", "--years", fmt.Sprint(years))
	run.Stdout, run.Stderr = &answer, &trouble
	err = run.Run()
	if err == nil {
		return found{}
	}
	var a struct {
		Years      int             `json:"years"`
		Violations []sim.Violation `json:"violations"`
	}
	if answer.Len() > 0 {
		if err := json.Unmarshal(answer.Bytes(), &a); err != nil {
			t.Fatal(err)
		}
	}
	if len(a.Violations) > 0 {
		v := a.Violations[0]
		return found{v.What, v.String(), a.Years + 1}
	}
	text := strings.TrimSpace(trouble.String())
	if !strings.Contains(text, "again with: ") { // not found, but broken before a shop began
		t.Fatalf("the program with the slip %q: %v\n%s", s.name, err, text)
	}
	return found{"stops", text, a.Years + 1}
}

func write(t *testing.T, path string, b []byte) {
	t.Helper()
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
}
