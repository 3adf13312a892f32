package console

import (
	"bufio"
	"errors"
	"io"
	"strings"

	"seamwright/services/access"
	"seamwright/services/app"
	"seamwright/services/fault"
)

// Person puts somebody into a shop's list of people, or changes their role
// and PIN and says so; the only foreman stays one. The PIN is one line of the input, so that it stands in no history
// of commands.
type Person struct {
	Dir, Name, Role string
	In              io.Reader
}

type personAnswer struct {
	Name string `json:"name"`
	Role string `json:"role"`
	Was  string `json:"was"` // the role before; empty: the name is new
	File string `json:"file"`
}

func (a personAnswer) Lines() []string {
	line := a.Name + " is " + a.Role + " in " + a.File
	switch a.Was {
	case "":
	case a.Role:
		line += " as before, with another PIN"
	default:
		line += ", was " + a.Was + " before, and has another PIN"
	}
	return []string{line + "; a running shop reads it at its next start"}
}

// Run enrols.
func (q Person) Run(o Out) error {
	if err := shopFolder(q.Dir); err != nil {
		return err
	}
	if q.Name == "" {
		return missing("--name", "the person's name")
	}
	role, err := word("--role", q.Role, access.Roles)
	if err != nil {
		return err
	}
	pin, err := bufio.NewReader(io.LimitReader(q.In, 64)).ReadString('\n')
	if err != nil && pin == "" {
		return fault.Bad("input", "nothing", "the PIN on one line, 4 to 12 digits")
	}
	file := app.PeopleFile(q.Dir)
	was, err := access.Enrol(file, access.Person{Name: q.Name, Role: role}, strings.TrimSpace(pin))
	if err = errors.Join(err, handBack(q.Dir)); err != nil {
		return err
	}
	a := personAnswer{Name: q.Name, Role: string(role), File: file}
	if was != nil {
		a.Was = string(was.Role)
	}
	return o.put(a)
}
