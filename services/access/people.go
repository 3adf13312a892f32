package access

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"seamwright/services/fault"
	"seamwright/services/floor"
)

// Person is somebody who works in the shop.
type Person struct {
	Name string
	Role floor.Role
}

// Terminal is a screen or tablet of the shop.
type Terminal struct {
	ID   string
	Zone string // where it stands; empty: carried about
}

// Roles are the roles that a person can have, in the order of lists.
var Roles = []floor.Role{floor.Technician, floor.Painter, floor.Foreman, floor.Materials, floor.Inspector}

// file is people.yaml.
type file struct {
	People    []filePerson   `yaml:"people"`
	Terminals []fileTerminal `yaml:"terminals,omitempty"`
}

type filePerson struct {
	Name    string     `yaml:"name"`
	Role    floor.Role `yaml:"role"`
	PINHash string     `yaml:"pin_hash,omitempty"`
}

type fileTerminal struct {
	ID   string `yaml:"id"`
	Zone string `yaml:"zone,omitempty"`
}

var terminalID = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_-]{0,47}$`)

// Load reads people.yaml. A missing file is not found; an empty one and
// anything ill-formed is an invalid fault that names the file, the entry and the limit.
func Load(path string) (*Shop, error) {
	b, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil, fault.Missing("people-file", path, "make it with: seamwright person --dir, which is told the file's folder")
	}
	if err != nil {
		return nil, fault.Wrap(err, fault.Unavailable, "people-file", "make the file readable for this user")
	}
	if len(bytes.TrimSpace(b)) == 0 { // nobody writes such a one: it was cut off
		return nil, fault.New(fault.Invalid, "people-file-empty", filepath.Base(path)+" is empty: nobody is in it",
			"put it back from a copy, or put people in anew with: seamwright person")
	}
	return Parse(filepath.Base(path), b)
}

// Parse reads the text of a people.yaml; name stands in its errors.
func Parse(name string, b []byte) (*Shop, error) {
	f, err := decode(name, b)
	if err != nil {
		return nil, err
	}
	s := &Shop{people: make(map[string]*entry), strangers: make(map[string]*entry), slots: make(chan struct{}, atOnce)}
	for i, p := range f.People {
		at := fmt.Sprintf("%s: people[%d]", name, i)
		e, err := p.entry(at)
		if err != nil {
			return nil, err
		}
		if s.people[p.Name] != nil {
			return nil, fault.Bad(at+".name", p.Name, "each name once; add a letter to tell two people apart")
		}
		s.people[p.Name] = e
		s.list = append(s.list, e.person)
	}
	for i, t := range f.Terminals {
		at := fmt.Sprintf("%s: terminals[%d]", name, i)
		if !terminalID.MatchString(t.ID) || t.Zone != "" && !terminalID.MatchString(t.Zone) {
			return nil, fault.Bad(at, shown(strconv.Quote(t.ID+" "+t.Zone)), "identifiers of 1 to 48 letters, digits, - and _")
		}
		if slices.ContainsFunc(s.terminals, func(o Terminal) bool { return o.ID == t.ID }) {
			return nil, fault.Bad(at+".id", t.ID, "each terminal once")
		}
		s.terminals = append(s.terminals, Terminal(t))
	}
	return s, nil
}

const peopleForm = "keep to the keys people (a list of name, role, pin_hash) and terminals (a list of id, zone), each key once"

func decode(name string, b []byte) (f file, err error) {
	err = strictYAML(name, b, peopleForm, &f)
	return f, err
}

// plainName reports whether a name can stand on a screen: one line of
// characters that can be seen, nothing blank around it.
func plainName(name string) bool {
	if name == "" || len(name) > 80 || strings.TrimSpace(name) != name {
		return false
	}
	return !strings.ContainsFunc(name, func(r rune) bool { return !unicode.IsGraphic(r) || r == utf8.RuneError })
}

func (p filePerson) entry(at string) (*entry, error) {
	if !plainName(p.Name) {
		return nil, fault.Bad(at+".name", shown(strconv.Quote(p.Name)), "one line of 1 to 80 bytes without blanks at its ends")
	}
	if !slices.Contains(Roles, p.Role) {
		return nil, fault.Bad(at+".role", shown(strconv.Quote(string(p.Role))), fmt.Sprintf("one of %v", Roles))
	}
	e := &entry{person: Person{Name: p.Name, Role: p.Role}}
	if p.PINHash == "" {
		return e, nil // a name to pick, without a PIN: never passes a check
	}
	h, err := parseHash(p.PINHash)
	if err != nil {
		return nil, fault.Bad(at+".pin_hash", "(not shown)", err.Error())
	}
	e.hash = h
	return e, nil
}

// Enrol puts a person into people.yaml, or changes the role and PIN of one
// who stands there, and makes the file if there is none. It tells who stood
// there under that name before, nil when nobody did. The last foreman with a
// PIN stays one: another role is a refused fault. A running shop reads the
// file at its next start.
func Enrol(path string, p Person, pin string) (was *Person, err error) {
	var f file
	b, err := os.ReadFile(path)
	if err == nil {
		f, err = decode(filepath.Base(path), b)
	}
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return nil, err
	}
	n := filePerson{Name: p.Name, Role: p.Role}
	if n.PINHash, err = HashPIN(pin); err != nil {
		return nil, err
	}
	if _, err := n.entry("person"); err != nil {
		return nil, err
	}
	signed := slices.ContainsFunc(f.People, filePerson.signs)
	if i := slices.IndexFunc(f.People, func(o filePerson) bool { return o.Name == p.Name }); i < 0 {
		f.People = append(f.People, n)
	} else {
		was = &Person{Name: p.Name, Role: f.People[i].Role}
		f.People[i] = n
	}
	if signed && !slices.ContainsFunc(f.People, filePerson.signs) {
		return was, fault.New(fault.Refused, "last-foreman",
			fmt.Sprintf("%s is the only foreman with a PIN in %s and cannot become %s; nothing was changed", p.Name, filepath.Base(path), p.Role),
			"put in another foreman first: seamwright person --name NAME --role foreman")
	}
	return was, write(path, f)
}

// signs reports whether somebody can sign as a foreman.
func (p filePerson) signs() bool { return p.Role == floor.Foreman && p.PINHash != "" }

// write replaces the file as a whole, readable by its owner only. The file and
// its name are on disk when it returns, so that who was enrolled before a power
// cut is so after it.
func write(path string, f file) error {
	b, err := yaml.Marshal(f)
	if err != nil {
		return fault.Wrap(err, fault.Internal, "people-file", "")
	}
	if err := replace(path, b); err != nil {
		return fault.Wrap(err, fault.Unavailable, "people-file", "make the folder writable for this user, and the disk not full")
	}
	return nil
}
