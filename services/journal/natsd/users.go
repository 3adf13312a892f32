package natsd

import (
	"fmt"
	"regexp"
	"slices"

	"github.com/nats-io/jwt/v2"
	"github.com/nats-io/nats-server/v2/server"
	"golang.org/x/crypto/bcrypt"

	"seamwright/services/fault"
)

// User is somebody who may connect from outside, and what they may do there.
type User struct {
	Name       string
	Hash       string // of the password, bcrypt
	NATS, MQTT bool   // by which protocols

	// Subjects, wildcards allowed; none: nothing. What Withheld names may not
	// be published even where Publish has it.
	Publish, Withheld, Subscribe []string

	// AtOnce is how many messages the user may send in half a second, over all
	// connections; who sends more is shut out for a minute. 0: any number.
	AtOnce int
}

// insideUser is this process. Its password is made at each start and never
// leaves the process, and the server takes it over no network.
const insideUser = "inside"

// hashForm is what the server takes for a hash. Anything else it would take
// for the password itself.
var hashForm = regexp.MustCompile(`^\$2[aby]\$[0-9]{2}\$[./A-Za-z0-9]{53}$`)

// Hash makes the hash of a password that is random beyond guessing, for which
// the cheapest hash will do.
func Hash(random string) (string, error) {
	h, err := bcrypt.GenerateFromPassword([]byte(random), bcrypt.MinCost)
	if err != nil {
		return "", fault.Wrap(err, fault.Internal, "bus-user", "")
	}
	return string(h), nil
}

// CheckHash says whether the server will take a text for a hash.
func CheckHash(hash string) error {
	cost, err := bcrypt.Cost([]byte(hash))
	if !hashForm.MatchString(hash) || err != nil || cost > maxCost {
		return fault.Bad("password hash", "(not shown)", fmt.Sprintf("a bcrypt hash of a cost up to %d; let the program make it", maxCost))
	}
	return nil
}

// maxCost bounds how long one attempt to log in may keep a core busy: about
// a quarter of a second.
const maxCost = 12

// users are the server's: this process and those from outside.
func (s *Server) users(outside []User) ([]*server.User, error) {
	out := []*server.User{{
		Username: insideUser, Password: s.hash,
		AllowedConnectionTypes: map[string]struct{}{jwt.ConnectionTypeInProcess: {}},
	}}
	for _, u := range outside {
		if u.Name == "" || slices.ContainsFunc(out, func(o *server.User) bool { return o.Username == u.Name }) {
			return nil, fault.Bad("bus user", fmt.Sprintf("%q", u.Name), "a name of its own for each user, not "+insideUser)
		}
		if !u.NATS && !u.MQTT { // the server would take none for all
			return nil, fault.Bad("bus user", u.Name, "NATS, MQTT or both to come by")
		}
		if err := CheckHash(u.Hash); err != nil {
			return nil, err
		}
		out = append(out, u.user())
	}
	return out, nil
}

// user is the server's form. Who is not told what they may publish or
// subscribe to may do neither.
func (u User) user() *server.User {
	allow := func(subjects []string) *server.SubjectPermission {
		if len(subjects) == 0 {
			return &server.SubjectPermission{Deny: []string{">"}}
		}
		return &server.SubjectPermission{Allow: slices.Clone(subjects)}
	}
	p := &server.Permissions{Publish: allow(u.Publish), Subscribe: allow(u.Subscribe)}
	p.Publish.Deny = append(p.Publish.Deny, u.Withheld...)
	types := map[string]struct{}{}
	if u.NATS {
		types[jwt.ConnectionTypeStandard] = struct{}{}
	}
	if u.MQTT {
		types[jwt.ConnectionTypeMqtt] = struct{}{}
		if len(u.Subscribe) > 0 { // the server delivers what was asked for with an acknowledgement there
			p.Subscribe.Allow = append(p.Subscribe.Allow, "$MQTT.sub.>")
		}
	}
	return &server.User{Username: u.Name, Password: u.Hash, Permissions: p, AllowedConnectionTypes: types}
}

// reload gives the running server its users, without those who are shut out.
// The caller holds the lock of the floods.
func (s *Server) reload() error {
	var in []User
	for _, u := range s.flood.outside {
		if _, out := s.flood.shut[u.Name]; !out {
			in = append(in, u)
		}
	}
	opts, err := s.options(in)
	if err != nil {
		return err
	}
	if err := s.srv.ReloadOptions(opts); err != nil {
		return fault.Wrap(err, fault.Internal, "bus-users", "start the program again")
	}
	return nil
}
