package access_test

import (
	"strings"
	"testing"

	"golang.org/x/crypto/bcrypt"

	"seamwright/services/access"
	"seamwright/services/fault"
)

// A list of bus users is refused on one line, or every user of it has a name of
// their own and a hash: never a password that stands there in plain.
func FuzzBusUsers(f *testing.F) {
	f.Add([]byte("users:\n  - {kind: probe, zone: bay-1, probe: p1, password_hash: " + aHash + "}\n"))
	f.Add([]byte("users: [{kind: reader, name: wall, password_hash: '" + aHash + "'}, {kind: service, name: x, password_hash: plain}]"))
	f.Add([]byte("users: &a [*a]\n"))
	f.Add([]byte("---\n---\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		users, err := access.ParseBus("bus.yaml", data)
		if err != nil {
			if fault.KindOf(err) != fault.Invalid || strings.ContainsAny(err.Error(), "\r\n") {
				t.Fatalf("%v: %q, want an invalid fault on one line", fault.KindOf(err), err)
			}
			return
		}
		seen := map[string]bool{}
		for _, u := range users {
			cost, err := bcrypt.Cost([]byte(u.Hash))
			if err != nil || cost > 12 || seen[u.User()] || strings.ContainsAny(u.User(), " */>#+\n") {
				t.Fatalf("taken: %+v, %v", u, err)
			}
			seen[u.User()] = true
		}
	})
}
