package access

import (
	"cmp"
	"crypto/rand"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"

	"go.yaml.in/yaml/v3"
	"golang.org/x/crypto/bcrypt"

	"seamwright/services/fault"
)

// BusKind is what a user of the shop's message bus is there for.
type BusKind string

// The kinds of bus users.
const (
	BusProbe   BusKind = "probe"   // a probe: publishes its own readings over MQTT, and nothing else
	BusReader  BusKind = "reader"  // reads the gates over NATS or MQTT, and says nothing
	BusService BusKind = "service" // another process of the shop: journal and all the rest, over NATS
)

// BusKinds are all kinds, in the order of lists.
var BusKinds = []BusKind{BusProbe, BusReader, BusService}

// BusUser is somebody who may connect to the shop's message bus from outside.
type BusUser struct {
	Kind        BusKind
	Zone, Probe string // a probe's only
	Name        string // the others' only
	Hash        string // of the password, bcrypt
}

// User is the name to connect with, made of what the user is: two probes
// cannot have one name.
func (u BusUser) User() string {
	if u.Kind == BusProbe {
		return string(u.Kind) + "." + u.Zone + "." + u.Probe
	}
	return string(u.Kind) + "." + u.Name
}

// busFile is bus.yaml.
type busFile struct {
	Users []fileBusUser `yaml:"users"`
}

type fileBusUser struct {
	Kind  BusKind `yaml:"kind"`
	Zone  string  `yaml:"zone,omitempty"`
	Probe string  `yaml:"probe,omitempty"`
	Name  string  `yaml:"name,omitempty"`
	Hash  string  `yaml:"password_hash"`
}

const busForm = "keep to the key users, a list of kind (probe, reader, service), zone and probe or name, and password_hash, each key once"

// busHash is a bcrypt hash and nothing that could be taken for a password in
// plain. The cost is bounded, as each attempt to log in pays it.
var busHash = regexp.MustCompile(`^\$2[aby]\$(0[4-9]|1[0-2])\$[./A-Za-z0-9]{53}$`)

// LoadBus reads bus.yaml. A missing file is not found; anything ill-formed is
// an invalid fault that names the file, the entry and the limit.
func LoadBus(path string) ([]BusUser, error) {
	b, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil, fault.Missing("bus-file", path, "make it by adding the first user: seamwright bus-user --dir DIR")
	}
	if err != nil {
		return nil, fault.Wrap(err, fault.Unavailable, "bus-file", "make the file readable for this user")
	}
	return ParseBus(filepath.Base(path), b)
}

// ParseBus reads the text of a bus.yaml; name stands in its errors.
func ParseBus(name string, b []byte) ([]BusUser, error) {
	var f busFile
	if err := strictYAML(name, b, busForm, &f); err != nil {
		return nil, err
	}
	var out []BusUser
	for i, e := range f.Users {
		at := fmt.Sprintf("%s: users[%d]", name, i)
		u := BusUser(e)
		if err := u.check(at + "."); err != nil {
			return nil, err
		}
		if !busHash.MatchString(u.Hash) {
			return nil, fault.Bad(at+".password_hash", "(not shown)", "a bcrypt hash of a cost from 4 to 12; let the program make it")
		}
		if slices.ContainsFunc(out, func(o BusUser) bool { return o.User() == u.User() }) {
			return nil, fault.Bad(at, u.User(), "each user once; take one out")
		}
		out = append(out, u)
	}
	return out, nil
}

func (u BusUser) check(at string) error {
	if !slices.Contains(BusKinds, u.Kind) {
		return fault.Bad(at+"kind", shown(fmt.Sprintf("%q", u.Kind)), fmt.Sprintf("one of %v", BusKinds))
	}
	type field struct{ name, value string }
	need, none := []field{{"name", u.Name}}, []field{{"zone", u.Zone}, {"probe", u.Probe}}
	if u.Kind == BusProbe {
		need, none = none, need
	}
	for _, f := range need {
		if !terminalID.MatchString(f.value) {
			return fault.Bad(at+f.name, shown(fmt.Sprintf("%q", f.value)), "1 to 48 letters, digits, - and _, the first a letter or digit")
		}
	}
	for _, f := range none {
		if f.value != "" {
			return fault.Bad(at+f.name, shown(fmt.Sprintf("%q", f.value)), fmt.Sprintf("nothing for a %s", u.Kind))
		}
	}
	return nil
}

// EnrolBus gives a user of the bus a new password and puts them into bus.yaml,
// which is made if there is none; who stands there already gets the new
// password instead of the old one. The password is in no file: who loses it
// enrols again.
func EnrolBus(path string, u BusUser) (password string, err error) {
	if err := u.check(""); err != nil {
		return "", err
	}
	users, err := LoadBus(path)
	if err != nil && fault.KindOf(err) != fault.NotFound {
		return "", err
	}
	// Random beyond guessing, so the cheapest hash will do, and a shop full
	// of probes that all come back at once is let in at once.
	password = rand.Text()
	hash, err := bcrypt.GenerateFromPassword([]byte(password), bcrypt.MinCost)
	if err != nil {
		return "", fault.Wrap(err, fault.Internal, "bus-file", "")
	}
	u.Hash = string(hash)
	users = slices.DeleteFunc(users, func(o BusUser) bool { return o.User() == u.User() })
	return password, writeBus(path, append(users, u))
}

// DismissBus takes a user out of bus.yaml; not found when nobody of that name
// stands there.
func DismissBus(path string, u BusUser) error {
	if err := u.check(""); err != nil {
		return err
	}
	users, err := LoadBus(path)
	if err != nil {
		return err
	}
	left := slices.DeleteFunc(slices.Clone(users), func(o BusUser) bool { return o.User() == u.User() })
	if len(left) == len(users) {
		return fault.Missing("bus-user", u.User(), "look into "+filepath.Base(path)+" who is there")
	}
	return writeBus(path, left)
}

func writeBus(path string, users []BusUser) error {
	slices.SortStableFunc(users, func(a, b BusUser) int {
		return cmp.Or(cmp.Compare(slices.Index(BusKinds, a.Kind), slices.Index(BusKinds, b.Kind)), cmp.Compare(a.User(), b.User()))
	})
	f := busFile{Users: []fileBusUser{}}
	for _, u := range users {
		f.Users = append(f.Users, fileBusUser(u))
	}
	b, err := yaml.Marshal(f)
	if err != nil {
		return fault.Wrap(err, fault.Internal, "bus-file", "")
	}
	if err := replace(path, b); err != nil {
		return fault.Wrap(err, fault.Unavailable, "bus-file", "make the folder writable for this user, and the disk not full")
	}
	return nil
}
