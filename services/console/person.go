package console

import (
	"bufio"
	"io"
	"strings"

	"seamwright/services/access"
	"seamwright/services/app"
	"seamwright/services/fault"
)

// Person puts somebody into a shop's list of people, or changes their role
// and PIN. The PIN is one line of the input, so that it stands in no history
// of commands.
type Person struct {
	Dir, Name, Role string
	In              io.Reader
}

type personAnswer struct {
	Name string `json:"name"`
	Role string `json:"role"`
	File string `json:"file"`
}

func (a personAnswer) Lines() []string {
	return []string{a.Name + " is " + a.Role + " in " + a.File + "; a running shop reads it at its next start"}
}

// Run enrols.
func (q Person) Run(o Out) error {
	if q.Dir == "" {
		return missing("--dir", "the shop's folder")
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
	if err := access.Enrol(file, access.Person{Name: q.Name, Role: role}, strings.TrimSpace(pin)); err != nil {
		return err
	}
	return o.put(personAnswer{q.Name, string(role), file})
}
