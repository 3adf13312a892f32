package access_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/crypto/bcrypt"

	"seamwright/services/access"
	"seamwright/services/fault"
)

func TestBusUsersAreEnrolledAndDismissed(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bus.yaml")
	if _, err := access.LoadBus(path); fault.KindOf(err) != fault.NotFound {
		t.Fatalf("no file: %v", err)
	}
	users := []access.BusUser{
		{Kind: access.BusService, Name: "cures"},
		{Kind: access.BusProbe, Zone: "bay-1", Probe: "p1"},
		{Kind: access.BusProbe, Zone: "bay", Probe: "1-p1"},
		{Kind: access.BusReader, Name: "wall"},
	}
	passwords := map[string]string{}
	for _, u := range append(users, users[1]) { // one of them twice: a new password
		pw, err := access.EnrolBus(path, u)
		if err != nil || len(pw) < 20 || pw == passwords[u.User()] {
			t.Fatalf("%s: %q, %v", u.User(), pw, err)
		}
		passwords[u.User()] = pw
	}
	got, err := access.LoadBus(path)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, u := range got {
		names = append(names, u.User())
		if err := bcrypt.CompareHashAndPassword([]byte(u.Hash), []byte(passwords[u.User()])); err != nil {
			t.Errorf("%s: %v", u.User(), err)
		}
	}
	if d := cmp.Diff([]string{"probe.bay-1.p1", "probe.bay.1-p1", "reader.wall", "service.cures"}, names); d != "" {
		t.Errorf("users (-want +got)\n%s", d)
	}
	i, err := os.Stat(path)
	if err != nil || i.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, %v, want 0600", i.Mode(), err)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for user, pw := range passwords {
		if strings.Contains(string(text), pw) {
			t.Errorf("the password of %s stands in the file", user)
		}
	}
	if err := access.DismissBus(path, users[3]); err != nil {
		t.Fatal(err)
	}
	if got, err = access.LoadBus(path); err != nil || len(got) != 3 {
		t.Errorf("%d users, %v, want 3", len(got), err)
	}
	if err := access.DismissBus(path, users[3]); fault.KindOf(err) != fault.NotFound {
		t.Errorf("dismissed twice: %v", err)
	}
}

const aHash = "$2a$04$vhD5hyyuhTJ1cDnpGIwbu.yGEzOpPf6BR9mUJ6kD1VqBDn1I9i2sG"

func TestBusFilesThatAreNone(t *testing.T) {
	line := func(s string) string { return "users:\n  - {" + s + "}\n" }
	for text, part := range map[string]string{
		line("kind: spy, name: a, password_hash: " + aHash):                                       "users[0].kind",
		line("kind: probe, zone: bay 1, probe: p, password_hash: " + aHash):                       "users[0].zone",
		line("kind: probe, zone: bay.1, probe: p, password_hash: " + aHash):                       "users[0].zone",
		line("kind: probe, zone: bay, probe: '>', password_hash: " + aHash):                       "users[0].probe",
		line("kind: probe, zone: bay, password_hash: " + aHash):                                   "users[0].probe",
		line("kind: probe, zone: b, probe: p, name: x, password_hash: " + aHash):                  "users[0].name",
		line("kind: reader, name: r, zone: b, password_hash: " + aHash):                           "users[0].zone",
		line("kind: reader, name: '*', password_hash: " + aHash):                                  "users[0].name",
		line("kind: reader, name: r"):                                                             "users[0].password_hash",
		line("kind: reader, name: r, password_hash: secret"):                                      "users[0].password_hash: (not shown)",
		line("kind: reader, name: r, password_hash: $2a$31$" + aHash[7:]):                         "users[0].password_hash: (not shown)",
		line("kind: reader, name: r, password_hash: " + aHash + "x"):                              "users[0].password_hash: (not shown)",
		line("kind: reader, name: r, password: x, password_hash: " + aHash):                       "bus.yaml:2",
		line("kind: reader, name: r, name: s, password_hash: " + aHash):                           "bus.yaml:2",
		"users: []\npeople: []\n":                                                                 "bus.yaml:2",
		"users:\n" + strings.Repeat("  - {kind: reader, name: r, password_hash: "+aHash+"}\n", 2): "users[1]: reader.r",
		"users: []\n---\nusers: []\n":                                                             "second document",
	} {
		users, err := access.ParseBus("bus.yaml", []byte(text))
		if fault.KindOf(err) != fault.Invalid || !strings.Contains(err.Error(), part) || strings.Contains(err.Error(), "secret") {
			t.Errorf("%s gives %v, %v, want %q named", text, users, err, part)
		}
	}
	for _, text := range []string{"", "users:\n", "\ufeffusers: []\n"} {
		if users, err := access.ParseBus("bus.yaml", []byte(text)); err != nil || len(users) != 0 {
			t.Errorf("%q gives %v, %v, want nobody", text, users, err)
		}
	}
}
