package floortest

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/cockroachdb/datadriven"

	"seamwright/services/floor"
)

// Script plays one scenario in one shop.
type Script struct {
	dir    string // where included files lie
	shop   Shop
	open   func(at time.Time) (Shop, error)
	out    strings.Builder
	seen   uint64 // newest event that was looked at for announcements
	people map[string]person
	first  map[string]string // the first person of each role
	named  map[string]uint64 // facts by the name that the text gave them
	told   int
	probes []*probe
	silent map[string]bool // terminals that do not speak
	tabs   []string        // terminals that do
}

// NewScript makes a script with nothing played yet. Included files lie in
// dir; open makes the shop when the text opens it.
func NewScript(dir string, open func(at time.Time) (Shop, error)) *Script {
	return &Script{
		dir: dir, open: open, people: map[string]person{}, first: map[string]string{},
		named: map[string]uint64{}, silent: map[string]bool{},
	}
}

// Run plays a scenario file in a shop that open makes, and compares.
func Run(t *testing.T, file string, open func(at time.Time) (Shop, error)) {
	t.Helper()
	s := NewScript(filepath.Dir(file), open)
	datadriven.RunTest(t, file, func(t *testing.T, d *datadriven.TestData) string {
		t.Helper()
		out, err := s.Do(d.Input)
		switch {
		case err != nil:
			t.Fatalf("%s: %v", d.Pos, err)
		case out == "":
			return "ok"
		}
		return out
	})
}

// Do plays lines and gives what the shop said. The error names the line that
// nobody understands; what the shop refuses is part of what it said.
func (s *Script) Do(lines string) (string, error) {
	s.out.Reset()
	for line := range strings.SplitSeq(lines, "\n") {
		if why := s.line(line); why != "" {
			return "", fmt.Errorf("%s: %s", line, why)
		}
	}
	return s.out.String(), nil
}

// Fact gives the number of a fact that a text named.
func (s *Script) Fact(name string) uint64 { return s.named[name] }

// line plays one line and says what is wrong with it, if anything.
func (s *Script) line(line string) (why string) {
	defer func() {
		if p := recover(); p != nil {
			m, ok := p.(mistake)
			if !ok {
				panic(p)
			}
			why = string(m)
		}
	}()
	line, _, _ = strings.Cut(line, "#")
	if strings.TrimSpace(line) == "" {
		return ""
	}
	s.play(strings.TrimSpace(line))
	return ""
}

func (s *Script) play(line string) {
	w := split(line)
	verb := w.take("a verb")
	switch {
	case verb == "include":
		s.include(w.take("a file"))
	case verb == "open-shop":
		s.openShop(w)
	case s.shop == nil:
		wrong("open the shop first: open-shop 2026-03-02 07:30")
	case verb == "at" || verb == "wait":
		s.pass(verb, w)
	case acts[verb] != nil:
		acts[verb](s, w)
		w.done()
	default:
		s.tell(line)
	}
	s.announcements()
}

func (s *Script) include(name string) {
	data, err := os.ReadFile(filepath.Join(s.dir, name))
	if err != nil {
		wrong("%s cannot be read", name)
	}
	for line := range strings.SplitSeq(string(data), "\n") {
		if why := s.line(line); why != "" {
			wrong("%s: %s: %s", name, line, why)
		}
	}
}

func (s *Script) openShop(w *words) {
	at, err := time.Parse("2006-01-02 15:04", w.take("a day")+" "+w.take("a time"))
	if err != nil {
		wrong("%v", err)
	}
	w.done()
	s.shop, err = s.open(at.UTC())
	if err != nil {
		wrong("%v", err)
	}
}

// printf adds a line to what the shop said.
func (s *Script) printf(format string, args ...any) { fmt.Fprintf(&s.out, format+"\n", args...) }

// say adds a line that begins with a moment.
func (s *Script) say(at time.Time, format string, args ...any) {
	s.printf("%s %s", s.clock(at), fmt.Sprintf(format, args...))
}

// clock is a moment as the foreman reads it: with the day when it is another.
func (s *Script) clock(t time.Time) string {
	switch {
	case t.IsZero():
		return "never"
	case t.UTC().Format(time.DateOnly) == s.shop.Now().UTC().Format(time.DateOnly):
		return t.UTC().Format("15:04")
	}
	return t.UTC().Format("Mon 2 Jan 15:04")
}

// moment reads "08:00" of the present day, or "2026-03-03 08:00".
func (s *Script) moment(w *words) time.Time {
	day := s.shop.Now().UTC().Format(time.DateOnly)
	t := w.take("a time")
	if strings.Count(t, "-") == 2 {
		day, t = t, w.take("a time")
	}
	at, err := time.Parse("2006-01-02 15:04:05", day+" "+t+":00"[:3*(2-strings.Count(t, ":"))])
	if err != nil {
		wrong("%v", err)
	}
	return at.UTC()
}

func (s *Script) pass(verb string, w *words) {
	if verb == "wait" {
		s.advance(s.shop.Now().Add(length(w.take("a length of time"))))
	} else {
		s.advance(s.moment(w))
	}
	if len(w.left) > 0 { // "at 08:00 lay ..." does it then
		s.play(strings.Join(quoted(w.left), " "))
	}
}

func quoted(words []string) []string {
	out := slices.Clone(words)
	for i, w := range out {
		if strings.Contains(w, " ") {
			out[i] = `"` + w + `"`
		}
	}
	return out
}

// advance lets time pass, with the readings of the probes and the signs of
// life of the terminals that fall into it.
func (s *Script) advance(to time.Time) {
	if to.Before(s.shop.Now()) {
		wrong("it is %s already", s.clock(s.shop.Now()))
	}
	for {
		next := to
		if hear := s.shop.Now().Add(2 * time.Minute); hear.Before(next) {
			next = hear
		}
		for _, p := range s.probes {
			if p.on() && p.next.Before(next) {
				next = p.next
			}
		}
		if err := s.shop.Advance(next); err != nil {
			wrong("%v", err)
		}
		s.signs()
		s.announcements()
		for _, p := range s.probes {
			for p.on() && !p.next.After(next) {
				s.sample(p)
			}
		}
		if !next.Before(to) {
			return
		}
	}
}

// signs lets every terminal that is not silent be heard.
func (s *Script) signs() {
	for _, t := range s.tabs {
		if !s.silent[t] {
			if err := s.shop.Hear(t); err != nil {
				wrong("%v", err)
			}
		}
	}
}

// floor looks at the floor.
func (s *Script) floor(fn func(f *floor.Floor)) { s.shop.Look(fn) }
