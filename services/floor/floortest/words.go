package floortest

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// mistake is what is wrong with a line of a scenario. Parsing panics with
// one, and the runner says where it stood.
type mistake string

func wrong(format string, args ...any) { panic(mistake(fmt.Sprintf(format, args...))) }

// words is a line that is taken apart: named values first, by their word,
// then what stands by its place.
type words struct{ left []string }

// split cuts a line at spaces; what stands in double quotes is one word.
func split(line string) *words {
	w := &words{}
	for i, part := range strings.Split(line, `"`) {
		if i%2 == 1 {
			w.left = append(w.left, part)
			continue
		}
		w.left = append(w.left, strings.Fields(part)...)
	}
	return w
}

// take is the next word.
func (w *words) take(what string) string {
	if len(w.left) == 0 {
		wrong("%s is missing", what)
	}
	t := w.left[0]
	w.left = w.left[1:]
	return t
}

// maybe is the next word, or nothing.
func (w *words) maybe() string {
	if len(w.left) == 0 {
		return ""
	}
	return w.take("")
}

// named is the value behind a word, wherever it stands.
func (w *words) named(word string) (string, bool) {
	i := slices.Index(w.left, word)
	if i < 0 {
		return "", false
	}
	if i+1 >= len(w.left) {
		wrong("%s wants a value", word)
	}
	v := w.left[i+1]
	w.left = slices.Delete(slices.Clone(w.left), i, i+2)
	return v, true
}

// has takes out a word that needs no value.
func (w *words) has(word string) bool {
	i := slices.Index(w.left, word)
	if i < 0 {
		return false
	}
	w.left = slices.Delete(slices.Clone(w.left), i, i+1)
	return true
}

// after takes out all that stands behind a word, as text.
func (w *words) after(word string) (string, bool) {
	i := slices.Index(w.left, word)
	if i < 0 {
		return "", false
	}
	text := strings.Join(w.left[i+1:], " ")
	w.left = w.left[:i]
	return text, true
}

// ending takes out the first word that ends in a unit, "30ml".
func (w *words) ending(unit string) (float64, bool) {
	for i, t := range w.left {
		if v, ok := strings.CutSuffix(t, unit); ok {
			if x, err := strconv.ParseFloat(v, 64); err == nil {
				w.left = slices.Delete(slices.Clone(w.left), i, i+1)
				return x, true
			}
		}
	}
	return 0, false
}

// done complains about words that nobody took.
func (w *words) done() {
	if len(w.left) > 0 {
		wrong("what does %q mean here?", strings.Join(w.left, " "))
	}
}

func (w *words) number(word string) (float64, bool) {
	v, ok := w.named(word)
	if !ok {
		return 0, false
	}
	return number(v), true
}

func (w *words) opt(word string) *float64 {
	if x, ok := w.number(word); ok {
		return &x
	}
	return nil
}

func (w *words) length(word string) time.Duration {
	v, ok := w.named(word)
	if !ok {
		return 0
	}
	return length(v)
}

func number(v string) float64 {
	x, err := strconv.ParseFloat(v, 64)
	if err != nil {
		wrong("%q is no number", v)
	}
	return x
}

// length reads "20m", "1h30m", "45s", "7d".
func length(v string) time.Duration {
	if d, ok := strings.CutSuffix(v, "d"); ok {
		return time.Duration(number(d) * 24 * float64(time.Hour))
	}
	d, err := time.ParseDuration(v)
	if err != nil {
		wrong("%q is no length of time", v)
	}
	return d
}

// span reads "5..35".
func span(v string) (lo, hi float64) {
	a, b, ok := strings.Cut(v, "..")
	if !ok {
		wrong("%q is not low..high", v)
	}
	return number(a), number(b)
}

// size reads "12x2": width and height in mm.
func size(v string) (w, h float64) {
	a, b, ok := strings.Cut(v, "x")
	if !ok {
		wrong("%q is not width x height", v)
	}
	return number(a), number(b)
}

func list(v string) []string { return strings.Split(v, ",") }
