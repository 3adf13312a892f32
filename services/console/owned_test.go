package console_test

import (
	"io"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"golang.org/x/crypto/bcrypt"

	"seamwright/services/console"
	"seamwright/services/journal/natsd"
)

// TestWhatRootWritesIsTheFoldersOwners does as root what a shop's keeper does
// beside a service that runs as a user of its own: everything in the folder
// stays that user's. A file that has another name elsewhere and what a link
// points at keep their owner, for the folder's owner may have put them there.
func TestWhatRootWritesIsTheFoldersOwners(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Skip("SKIPPED: only root gives files away")
	}
	t.Parallel()
	const user, group = 63138, 63139
	dir, away := t.TempDir(), t.TempDir()
	for _, name := range []string{"named twice", "pointed at"} {
		if err := os.WriteFile(filepath.Join(away, name), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Link(filepath.Join(away, "named twice"), filepath.Join(dir, "named twice")); err != nil {
		t.Skip("SKIPPED: the disk knows no second names: ", err)
	}
	if err := os.Symlink(filepath.Join(away, "pointed at"), filepath.Join(dir, "link")); err != nil {
		t.Fatal(err)
	}
	if err := os.Chown(dir, user, group); err != nil {
		t.Skip("SKIPPED: this root gives nothing away: ", err)
	}
	check := func(after string) {
		t.Helper()
		owned(t, dir, user, group, after)
		for _, name := range []string{"named twice", "pointed at"} {
			i, err := os.Stat(filepath.Join(away, name))
			if err != nil {
				t.Fatal(err)
			}
			if s := i.Sys().(*syscall.Stat_t); s.Uid != 0 {
				t.Errorf("after %s %s outside is %d's", after, name, s.Uid)
			}
		}
	}
	quiet := console.Out{W: io.Discard}
	if err := (console.Person{Dir: dir, Name: "Ansa Vellacorn", Role: "foreman", In: strings.NewReader("2468\n")}).Run(quiet); err != nil {
		t.Fatal(err)
	}
	check("person")
	if err := (console.BusUser{Dir: dir, Kind: "reader", Name: "lamp"}).Run(quiet); err != nil {
		t.Fatal(err)
	}
	check("bus-user")
	stop := openUpIn(t, dir, "127.0.0.1:0")
	check("up, while it runs") // it may be killed
	stop()
	check("up")
	if err := (console.Verify{Dir: dir, Shop: "demo"}).Run(t.Context(), quiet); err != nil {
		t.Fatal(err)
	}
	check("journal verify")
}

// owned sees that everything in a folder is its owner's.
func owned(t *testing.T, dir string, user, group uint32, after string) {
	t.Helper()
	n := 0
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.Name() == "named twice" || d.Name() == "link" {
			return err
		}
		i, err := d.Info()
		if err != nil {
			return err
		}
		n++
		if s := i.Sys().(*syscall.Stat_t); s.Uid != user || s.Gid != group {
			t.Errorf("after %s %s is %d:%d's", after, path, s.Uid, s.Gid)
		}
		return nil
	})
	if err != nil || n < 2 {
		t.Errorf("after %s: %d files looked at, %v", after, n, err)
	}
}

// TestTheProofOfAServiceIsItsFoldersOwners does the same for a service that
// root starts by hand with another's proof.
func TestTheProofOfAServiceIsItsFoldersOwners(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Skip("SKIPPED: only root gives files away")
	}
	t.Parallel()
	hash, err := bcrypt.GenerateFromPassword([]byte("of-the-test"), bcrypt.MinCost)
	if err != nil {
		t.Fatal(err)
	}
	log := slog.New(slog.DiscardHandler)
	s, err := natsd.Start(natsd.Options{StoreDir: t.TempDir(), Listen: true, Logger: log, Users: []natsd.User{
		{Name: "service", Hash: string(hash), NATS: true, Publish: []string{">"}, Subscribe: []string{">"}},
	}})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Stop)
	const user, group = 63138, 63139
	dir := t.TempDir()
	if err := os.Chown(dir, user, group); err != nil {
		t.Skip("SKIPPED: this root gives nothing away: ", err)
	}
	_, stop := opened(t, console.Serve{
		NATS: strings.Replace(s.URL(), "nats://", "nats://service:of-the-test@", 1), Shop: "demo",
		Services: []string{"jobs"}, GRPC: "127.0.0.1:0", Proof: dir, Log: log,
	}.Run)
	owned(t, dir, user, group, "serve, while it runs") // it may be killed
	stop()
	owned(t, dir, user, group, "serve")
}
