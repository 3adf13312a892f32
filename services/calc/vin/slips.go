package vin

import (
	"slices"
	"strings"
)

// lookalikes are characters that people misread for each other on a plate
// behind glass. Common practice, no source.
var lookalikes = map[byte]string{
	'0': "D", 'D': "0", '1': "7L", '7': "1T", 'L': "1", 'T': "7", '2': "Z", 'Z': "2", '4': "A", 'A': "4",
	'5': "S6", 'S': "5", '6': "G5", 'G': "6C", 'C': "G", '8': "B3", 'B': "8", '3': "8", 'U': "V", 'V': "UY", 'Y': "V",
	'M': "N", 'N': "M", 'E': "F", 'F': "E", 'P': "R", 'R': "P", 'X': "K", 'K': "X",
}

// Apart is how many positions of two numbers differ, -1 where one is longer.
func Apart(a, b string) int {
	if len(a) != len(b) {
		return -1
	}
	n := 0
	for i := range len(a) {
		if a[i] != b[i] {
			n++
		}
	}
	return n
}

// forbidden are the letters that no number has, read as the digits that they
// were.
var forbidden = strings.NewReplacer("I", "1", "O", "0", "Q", "0")

const alphabet = "0123456789ABCDEFGHJKLMNPRSTUVWXYZ"

// search collects numbers that check out, each once.
type search struct {
	wrong string
	seen  map[string]bool
	found []string
}

// try keeps a number if it checks out.
func (s *search) try(v string) {
	if v == s.wrong || s.seen[v] || checkDigit(v) != v[8] {
		return
	}
	s.seen[v] = true
	s.found = append(s.found, v)
}

// plausible reports whether the positions that the regulation binds hold
// what they may: a year in position 10, digits in the last four (49 CFR
// 565.15).
func plausible(v string) bool {
	if modelYear(v) == 0 {
		return false
	}
	for _, c := range []byte(v[13:]) {
		if c < '0' || c > '9' {
			return false
		}
	}
	return true
}

// take gives what was found so far, in the order that it was tried but with
// what could not stand on a plate at the end, and begins anew.
func (s *search) take() []string {
	out := s.found
	slices.SortStableFunc(out, func(a, b string) int {
		switch pa, pb := plausible(a), plausible(b); {
		case pa == pb:
			return 0
		case pa:
			return -1
		}
		return 1
	})
	s.found = []string{}
	return out
}

// suggest finds what a wrong number may have been meant for: likely ones,
// likeliest first, and others, both never nil.
//
// Where no position holds a forbidden letter, likely are one look-alike, then
// two neighbours swapped, or a character typed twice or only once where it
// stands twice; others are any one other character: of those about one in
// eleven checks out, so they are many.
//
// A position that holds a forbidden letter was surely misread. Likely are those
// that change nothing else: each such letter read as its digit, and, where that
// does not check out or there is one such letter only, one of them read as any
// character. Others have a further slip. Only where nothing checks out without
// one, its usual kinds are likely.
func suggest(v string) (likely, others []string) {
	plain := forbidden.Replace(v)
	s := search{wrong: v, seen: map[string]bool{}, found: []string{}}
	switch n := len(plain); {
	case n == Length && len(shape(plain)) == 0:
		likely = s.illegal(v, plain)
		s.lookalike(plain)
		s.swap(plain)
		if len(likely) == 0 {
			likely = s.take()
		}
		s.oneCharacter(plain)
		return likely, s.take()
	case n == Length+1:
		s.dropOne(plain)
	case n == Length-1:
		s.doubleOne(plain)
	}
	return s.take(), []string{}
}

// illegal finds the numbers that differ from v only where it holds forbidden
// letters; plain is v with these read as digits.
func (s *search) illegal(v, plain string) []string {
	var bad []int
	for i := range Length {
		if v[i] != plain[i] {
			bad = append(bad, i)
		}
	}
	if len(bad) == 0 {
		return nil
	}
	s.try(plain)
	if len(bad) == 1 || len(s.found) == 0 {
		for _, i := range bad {
			s.at(plain, i, lookalikes[plain[i]]+alphabet)
		}
	}
	return s.take()
}

// at tries characters in one position.
func (s *search) at(v string, i int, chars string) {
	for _, c := range []byte(chars) {
		s.try(v[:i] + string(c) + v[i+1:])
	}
}

func (s *search) lookalike(v string) {
	for i := range Length {
		s.at(v, i, lookalikes[v[i]])
	}
}

func (s *search) swap(v string) {
	for i := range Length - 1 {
		s.try(v[:i] + v[i+1:i+2] + v[i:i+1] + v[i+2:])
	}
}

func (s *search) oneCharacter(v string) {
	for i := range Length {
		s.at(v, i, alphabet)
	}
}

// dropOne takes one of two equal neighbours out of a number that is one
// character too long.
func (s *search) dropOne(v string) {
	for i := range Length {
		if short := v[:i] + v[i+1:]; v[i] == v[i+1] && len(shape(short)) == 0 {
			s.try(short)
		}
	}
}

// doubleOne doubles a character of a number that is one too short.
func (s *search) doubleOne(v string) {
	for i := range v {
		if long := v[:i+1] + v[i:]; len(shape(long)) == 0 {
			s.try(long)
		}
	}
}
