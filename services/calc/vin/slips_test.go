package vin

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// realNumbers are the valid numbers of the table whose first character makes
// the check digit law.
func realNumbers(t *testing.T) []string {
	var out []string
	for _, row := range rows(t, "05_vin.csv") {
		if v := row["vin"]; row["expected"] == "valid" && v[0] >= '1' && v[0] <= '5' {
			out = append(out, v)
		}
	}
	if len(out) < 10 {
		t.Fatalf("only %d numbers", len(out))
	}
	return out
}

// Whatever one character was misread, the right number is among those told;
// a look-alike is among the likely ones.
func TestOneSlipIsFound(t *testing.T) {
	for _, right := range realNumbers(t) {
		for i := 1; i < Length; i++ {
			for _, c := range []byte(alphabet) {
				wrong := right[:i] + string(c) + right[i+1:]
				r := Check(wrong)
				if wrong == right || r.Valid {
					continue // the sum does not see it
				}
				if !slices.Contains(r.Suggestions, right) && !slices.Contains(r.Others, right) {
					t.Fatalf("%s, meant %s: %v and %v", wrong, right, r.Suggestions, r.Others)
				}
				if slices.Contains([]byte(lookalikes[c]), right[i]) && !slices.Contains(r.Suggestions, right) {
					t.Fatalf("%s, meant %s: only %v are likely", wrong, right, r.Suggestions)
				}
			}
		}
	}
}

func TestLikelySlipsAreFound(t *testing.T) {
	for _, right := range realNumbers(t) {
		for i := range Length - 1 {
			wrong := right[:i] + right[i+1:i+2] + right[i:i+1] + right[i+2:]
			if r := Check(wrong); !r.Valid && !slices.Contains(r.Suggestions, right) {
				t.Errorf("%s has two swapped, meant %s: %v", wrong, right, r.Suggestions)
			}
			twice := right[:i+1] + right[i:]
			if r := Check(twice); r.Valid || !slices.Contains(r.Suggestions, right) {
				t.Errorf("%s has one twice, meant %s: %v", twice, right, r.Suggestions)
			}
			if right[i] == right[i+1] {
				once := right[:i] + right[i+1:]
				if r := Check(once); r.Valid || !slices.Contains(r.Suggestions, right) {
					t.Errorf("%s lacks one, meant %s: %v", once, right, r.Suggestions)
				}
			}
		}
	}
	// Letters that no number has are put right before anything else.
	if r := Check("IG4AH59H45G118341"); len(r.Suggestions) == 0 || r.Suggestions[0] != "1G4AH59H45G118341" {
		t.Errorf("an I for a 1: %v", r.Suggestions)
	}
	// Nothing can be said of a number that is far off; a right one needs nothing.
	for _, v := range []string{"", "1", "1G4AH59H45G118341", "1G4AH59H45G11834100", "1G4AH59H45G11834é"} {
		if r := Check(v); r.Suggestions == nil || r.Others == nil || len(r.Suggestions)+len(r.Others) > 0 {
			t.Errorf("%q: %v and %v", v, r.Suggestions, r.Others)
		}
	}
}

// What is suggested is a number that stands every check, each told once.
func TestSuggestionsStand(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.SampledFrom([]int{Length - 1, Length, Length, Length + 1}).Draw(t, "length")
		v := "1" + rapid.StringOfN(rapid.SampledFrom([]rune(alphabet+"IOQ")), n-1, n-1, -1).Draw(t, "rest")
		r := Check(v)
		if r.Valid {
			return
		}
		seen := map[string]bool{v: true}
		for _, s := range slices.Concat(r.Suggestions, r.Others) {
			if c := Check(s); !c.Valid || !c.CheckMatch || seen[s] {
				t.Fatalf("%s: suggested %s", v, s)
			}
			seen[s] = true
		}
		// A plate cannot bear those without a year or with letters at the end.
		for _, list := range [][]string{r.Suggestions, r.Others} {
			odd := slices.IndexFunc(list, func(s string) bool { return !plausible(s) })
			if odd >= 0 && slices.ContainsFunc(list[odd:], plausible) {
				t.Fatalf("%s: %v has one that no plate bears before one that might", v, list)
			}
		}
	})
}

// A position that holds I, O or Q was misread for sure: what puts only that
// right comes first, whatever stood there, and nothing with a second slip comes
// before it.
func TestAnIllegalPositionIsPutRightFirst(t *testing.T) {
	for _, right := range realNumbers(t) {
		for i := range Length {
			for _, c := range []byte("IOQ") {
				wrong := right[:i] + string(c) + right[i+1:]
				r := Check(wrong)
				if !slices.Contains(r.Suggestions, right) || len(r.Suggestions) > 4 {
					t.Fatalf("%s, meant %s: %v are likely", wrong, right, r.Suggestions)
				}
				for _, s := range r.Suggestions {
					if s[:i] != wrong[:i] || s[i+1:] != wrong[i+1:] {
						t.Fatalf("%s: %s changes more than position %d", wrong, s, i+1)
					}
				}
				for _, s := range r.Others {
					if Apart(s, wrong) < 2 {
						t.Fatalf("%s: %s is one character away and not likely", wrong, s)
					}
				}
			}
		}
	}
	// Two of them: both read as their digits, and nothing else.
	if r := Check("1M8GDM9AXKPO4278Q"); len(r.Suggestions) == 0 || Apart(r.Suggestions[0], "1M8GDM9AXKPO4278Q") != 2 {
		t.Errorf("%v", r.Suggestions)
	}
	if r := Check("IG4AH59H45GII834I"); !slices.Equal(r.Suggestions, []string{"1G4AH59H45G118341"}) {
		t.Errorf("%v", r.Suggestions)
	}
	if Apart("1", "12") != -1 || Apart("123", "321") != 2 {
		t.Error("characters that differ are miscounted")
	}
}
