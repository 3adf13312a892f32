package access_test

import (
	"context"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"seamwright/services/access"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// demoPIN is the PIN of everybody in testdata/shop/people.yaml.
const demoPIN = "2468"

var morning = time.Date(2026, 3, 2, 7, 30, 0, 0, time.UTC)

func demo(t *testing.T) *access.Shop {
	t.Helper()
	s, err := access.Load(filepath.Join("..", "..", "testdata", "shop", "people.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestEverybodyOfTheDemonstrationShopPasses(t *testing.T) {
	s := demo(t)
	have := make(map[floor.Role]int)
	for _, p := range s.People() {
		have[p.Role]++
		got, err := s.Check(t.Context(), p.Name, demoPIN, morning)
		if err != nil || got != p {
			t.Errorf("%s: %v, %v", p.Name, got, err)
		}
	}
	for _, r := range access.Roles {
		if have[r] == 0 {
			t.Errorf("nobody is %s", r)
		}
	}
	if n := len(s.Terminals()); n != 5 {
		t.Errorf("%d terminals, want 5", n)
	}
}

// The hash of "password" with salt "somesalt" at t=1, m=2^16 KiB, p=1 stands
// in src/test.c of the Argon2 reference implementation (phc-winner-argon2,
// version 0x13, Argon2id). Quoted from memory; that the library computes the
// same bytes was checked. A PIN is digits only, so the vector is used to show
// that the stored form is the standard's: a file with it loads.
func TestStoredFormIsTheStandards(t *testing.T) {
	key, err := hex.DecodeString("f6a5adc1ba723dddef9b5ac1d464e180fcd9dffc9d1cbf76cca2fed795d9ca98")
	if err != nil {
		t.Fatal(err)
	}
	enc := base64.RawStdEncoding
	phc := "$argon2id$v=19$m=65536,t=1,p=1$" + enc.EncodeToString([]byte("somesalt")) + "$" + enc.EncodeToString(key)
	if want := "$argon2id$v=19$m=65536,t=1,p=1$c29tZXNhbHQ$9qWtwbpyPd3vm1rB1GThgPzZ3/ydHL92zKL+15XZypg"; phc != want {
		t.Fatalf("stored form %s, the standard's is %s", phc, want)
	}
	if !access.MatchesStored(phc, "password") || access.MatchesStored(phc, "passwore") {
		t.Error("the reference implementation's hash is not taken for what it is")
	}
}

func TestWrongPINAndUnknownNameAreDeniedInTheSameWords(t *testing.T) {
	s := demo(t)
	_, wrong := s.Check(t.Context(), "Ansa Vellacorn", "1357", morning)
	_, unknown := s.Check(t.Context(), "Nobody Here", demoPIN, morning)
	for name, err := range map[string]error{"wrong PIN": wrong, "unknown name": unknown} {
		if fault.KindOf(err) != fault.Denied {
			t.Errorf("%s: %v, want denied", name, err)
		}
	}
	if wrong.Error() != unknown.Error() {
		t.Errorf("the words differ:\n%v\n%v", wrong, unknown)
	}
	if _, err := s.Check(t.Context(), "Ansa Vellacorn", "24x8", morning); fault.KindOf(err) != fault.Invalid || strings.Contains(err.Error(), "24x8") {
		t.Errorf("an ill-formed PIN gave %v; want an invalid fault without the PIN", err)
	}
}

func TestFiveWrongPINsLockANameForFiveMinutes(t *testing.T) {
	for _, name := range []string{"Ansa Vellacorn", "Nobody Here"} {
		s := demo(t)
		for i := range 5 {
			_, err := s.Check(t.Context(), name, "1357", morning.Add(time.Duration(i)*time.Minute))
			if !fault.Is(err, "wrong-pin") {
				t.Fatalf("%s, attempt %d: %v", name, i+1, err)
			}
		}
		_, err := s.Check(t.Context(), name, demoPIN, morning.Add(4*time.Minute+59*time.Second))
		if !fault.Is(err, "pin-locked") || !strings.Contains(err.Error(), "2026-03-02T07:35:00Z") {
			t.Errorf("%s: %v, want locked until 07:35", name, err)
		}
		if _, err = s.Check(t.Context(), name, demoPIN, morning.Add(5*time.Minute)); fault.Is(err, "pin-locked") {
			t.Errorf("%s is still locked five minutes after the first: %v", name, err)
		}
	}
}

func TestLockOfOneNameLeavesTheOthers(t *testing.T) {
	s := demo(t)
	for range 5 {
		_, _ = s.Check(t.Context(), "Sel Thrushgate", "1357", morning)
	}
	if _, err := s.Check(t.Context(), "Ansa Vellacorn", demoPIN, morning); err != nil {
		t.Error(err)
	}
}

// Guesses made side by side must not slip past the limit.
func TestGuessesSideBySideCount(t *testing.T) {
	s := demo(t)
	var guesses sync.WaitGroup
	var tried atomic.Int32
	for i := range 20 {
		guesses.Go(func() {
			_, err := s.Check(t.Context(), "Ansa Vellacorn", fmt.Sprintf("9%03d", i), morning)
			if fault.Is(err, "wrong-pin") {
				tried.Add(1)
			}
		})
	}
	guesses.Wait()
	if tried.Load() != 5 {
		t.Errorf("%d guesses were tried, the limit is 5", tried.Load())
	}
}

func TestCheckEndsWithItsContextAndCountsNothing(t *testing.T) {
	s := demo(t)
	release := access.FillSlots(s)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	for range 6 {
		if _, err := s.Check(ctx, "Ansa Vellacorn", demoPIN, morning); fault.KindOf(err) != fault.Cancelled {
			t.Fatalf("got %v, want cancelled", err)
		}
	}
	release()
	if _, err := s.Check(t.Context(), "Ansa Vellacorn", demoPIN, morning); err != nil {
		t.Error(err)
	}
}

func TestIllFormedFilesAreRefusedByName(t *testing.T) {
	good := "$argon2id$v=19$m=65536,t=1,p=1$c29tZXNhbHQ$9qWtwbpyPd3vm1rB1GThgPzZ3/ydHL92zKL+15XZypg"
	for text, want := range map[string]string{
		"people: [{name: A, role: king}]":                                                     "people[0].role",
		"people: [{name: '', role: painter}]":                                                 "people[0].name",
		"people: [{name: ' A', role: painter}]":                                               "people[0].name",
		"people: [{name: A, role: machine}]":                                                  "people[0].role",
		"people: [{name: A, role: painter}, {name: A, role: foreman}]":                        "people[1].name",
		"people: [{name: A, role: painter, pin: 1}]":                                          "field pin not found",
		"people: [{name: A, role: painter, pin_hash: x}]":                                     "people[0].pin_hash",
		"people: [{name: A, role: painter, pin_hash: '" + good[:60] + "'}]":                   "people[0].pin_hash",
		"people: [{name: A, role: painter, pin_hash: '" + swap(good, "65536", "4096") + "'}]": "people[0].pin_hash",
		"terminals: [{id: 'a b'}]":                                                            "terminals[0]",
		"terminals: [{id: a}, {id: a}]":                                                       "terminals[1].id",
		"people: [":                                                                           "people.yaml",
	} {
		_, err := access.Parse("people.yaml", []byte(text))
		if fault.KindOf(err) != fault.Invalid || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s:\n%v\nwant an invalid fault on one line that names %s", text, err, want)
		}
	}
	if _, err := access.Load(filepath.Join(t.TempDir(), "none.yaml")); fault.KindOf(err) != fault.NotFound {
		t.Errorf("a missing file gave %v", err)
	}
}

func swap(s, old, to string) string { return strings.Replace(s, old, to, 1) }

func TestEnrolAddsAndChanges(t *testing.T) {
	path := filepath.Join(t.TempDir(), "people.yaml")
	for _, step := range []struct {
		person access.Person
		pin    string
	}{
		{access.Person{Name: "Wren Oddleigh", Role: floor.Foreman}, "4711"},
		{access.Person{Name: "Pim Tarrow", Role: floor.Foreman}, "123456"},
		{access.Person{Name: "Wren Oddleigh", Role: floor.Inspector}, "8642"},
	} {
		if _, err := access.Enrol(path, step.person, step.pin); err != nil {
			t.Fatal(err)
		}
	}
	s, err := access.Load(path)
	if err != nil {
		t.Fatal(err)
	}
	want := []access.Person{{Name: "Wren Oddleigh", Role: floor.Inspector}, {Name: "Pim Tarrow", Role: floor.Foreman}}
	if diff := cmp.Diff(want, s.People()); diff != "" {
		t.Errorf("people (-want +got):\n%s", diff)
	}
	if _, err := s.Check(t.Context(), "Wren Oddleigh", "8642", morning); err != nil {
		t.Error(err)
	}
	if _, err := s.Check(t.Context(), "Wren Oddleigh", "4711", morning); err == nil {
		t.Error("the old PIN still passes")
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, %v; want 0600", info.Mode(), err)
	}
	if _, err := access.Enrol(path, access.Person{Name: "X", Role: "king"}, "4711"); fault.KindOf(err) != fault.Invalid {
		t.Errorf("an unknown role gave %v", err)
	}
}

// Somebody must be able to sign as a foreman for as long as somebody could.
func TestTheLastForemanStays(t *testing.T) {
	path := filepath.Join(t.TempDir(), "people.yaml")
	put := func(name string, role floor.Role) (*access.Person, error) {
		return access.Enrol(path, access.Person{Name: name, Role: role}, demoPIN)
	}
	signs := func(want bool) {
		t.Helper()
		if s, err := access.Load(path); err != nil || s.CanSign() != want {
			t.Errorf("can sign: want %v, %v", want, err)
		}
	}
	if was, err := put("Tamsin Orrable", floor.Technician); was != nil || err != nil { // nobody was foreman yet
		t.Fatal(was, err)
	}
	signs(false)
	if was, err := put("Ansa Vellacorn", floor.Foreman); was != nil || err != nil {
		t.Fatal(was, err)
	}
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := put("Ansa Vellacorn", floor.Painter); !fault.Is(err, "last-foreman") || fault.KindOf(err) != fault.Refused {
		t.Errorf("the only foreman became painter: %v", err)
	}
	if after, err := os.ReadFile(path); err != nil || string(after) != string(before) {
		t.Errorf("the refusal changed the file: %v", err)
	}
	if was, err := put("Ansa Vellacorn", floor.Foreman); err != nil || was == nil || was.Role != floor.Foreman { // another PIN
		t.Errorf("%v, %v", was, err)
	}
	if was, err := put("Tamsin Orrable", floor.Foreman); err != nil || was == nil || was.Role != floor.Technician {
		t.Errorf("%v, %v", was, err)
	}
	if _, err := put("Ansa Vellacorn", floor.Painter); err != nil { // one of two
		t.Error(err)
	}
	signs(true)
	list := "people: [{name: Ansa Vellacorn, role: foreman}]" // without a PIN
	if s, err := access.Parse("people.yaml", []byte(list)); err != nil || s.CanSign() {
		t.Errorf("a foreman without a PIN signs: %v", err)
	}
}

// A list that was emptied is not taken for one of nobody, and people can be put
// into it anew.
func TestAnEmptiedListIsRefused(t *testing.T) {
	file := filepath.Join(t.TempDir(), "people.yaml")
	for _, text := range []string{"", "\n \n"} {
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := access.Load(file); !fault.Is(err, "people-file-empty") {
			t.Errorf("%q: %v", text, err)
		}
		if _, err := access.Enrol(file, access.Person{Name: "Ansa Vellacorn", Role: floor.Foreman}, "2468"); err != nil {
			t.Errorf("putting somebody into %q: %v", text, err)
		}
		if s, err := access.Load(file); err != nil || !s.CanSign() {
			t.Errorf("afterwards: %v", err)
		}
	}
}
