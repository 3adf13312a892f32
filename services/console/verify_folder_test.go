package console_test

import (
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"seamwright/services/console"
	"seamwright/services/fault"
)

const verifyThere = "SEAMWRIGHT_TEST_VERIFY"

// TestVerifyAsAnotherUser is a program of its own, which
// TestAFolderOfAnotherUserIsNotOpened starts as another user.
func TestVerifyAsAnotherUser(t *testing.T) {
	dir := os.Getenv(verifyThere)
	if dir == "" {
		t.Skip("it is started by another test")
	}
	for name, run := range map[string]func() error{
		"verify": func() error {
			return console.Verify{Dir: dir, Shop: "demo"}.Run(t.Context(), console.Out{W: io.Discard})
		},
		"accept": func() error {
			return console.Accept{Dir: dir, Shop: "demo", Name: "Ansa Vellacorn", Reason: "none"}.Run(t.Context(), console.Out{W: io.Discard})
		},
		"gate": func() error { return console.Gate{Dir: dir, Booth: "b"}.Run(t.Context(), console.Out{W: io.Discard}) },
		"watch": func() error {
			return console.Watch{At: console.At{Dir: dir}}.Run(t.Context(), console.Out{W: io.Discard})
		},
	} {
		err := run()
		fmt.Printf("%s: %v: %v\n", name, fault.ReasonOf(err), err)
	}
}

// Who may not open the shop's folder is told so, and as whom to look instead.
func TestAFolderOfAnotherUserIsNotOpened(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Skip("SKIPPED: only root runs a program as another user")
	}
	t.Parallel()
	const me, other = 63140, 63141
	program := filepath.Join(t.TempDir(), "verify")
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(self)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(program, b, 0o755); err != nil {
		t.Fatal(err)
	}
	for _, f := range []string{program, filepath.Dir(program), filepath.Dir(filepath.Dir(program))} { // where the other user passes
		if err := os.Chmod(f, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	dir := filepath.Join(t.TempDir(), "shop")
	if err := os.Mkdir(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	openUpIn(t, dir, "127.0.0.1:0")()
	for name, c := range map[string]struct {
		owner int
		mode  os.FileMode // of the journal's folder
		want  string
	}{
		"of another": {other, 0o700, fmt.Sprintf("run it as %d, to whom %s belongs, or as root", other, dir)},
		"of root":    {0, 0o700, "run it as root"},
		"its own":    {me, 0, "it is this user's own: make " + dir + "/journal readable and writable for it with chmod -R u+rwX"},
	} {
		err := filepath.WalkDir(dir, func(path string, _ os.DirEntry, err error) error {
			if err != nil {
				return err
			}
			return os.Chown(path, c.owner, c.owner)
		})
		if err == nil {
			err = os.Chmod(filepath.Join(dir, "journal"), c.mode)
		}
		if err != nil {
			t.Skip("SKIPPED: this root gives nothing away: ", err)
		}
		cmd := exec.CommandContext(t.Context(), program, "-test.run=^TestVerifyAsAnotherUser$")
		cmd.Dir, cmd.Env = "/", []string{verifyThere + "=" + dir}
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: me, Gid: me}}
		out, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%s: %v: %s", name, err, out)
		}
		seen := "shop-not-seen: whether a shop runs in " + fault.Show(dir, 60) + " is not for this user to see"
		if c.owner == me {
			seen = "shop-not-running: no shop runs in " + dir
		}
		for _, command := range []string{"gate", "watch"} {
			if want := "\n" + command + ": " + seen; !strings.Contains("\n"+string(out), want) {
				t.Errorf("%s: %s, want %q", name, out, want)
			}
		}
		for _, command := range []string{"verify", "accept"} {
			begin := fmt.Sprintf("%s: folder-closed: --dir: %s: cannot be opened by user %d, who may not read and write what is in it", command, fault.Show(dir, 60), me)
			line := ""
			for l := range strings.Lines(string(out)) {
				if strings.HasPrefix(l, command+": ") {
					line = strings.TrimSuffix(l, "\n")
				}
			}
			if !strings.HasPrefix(line, begin) || !strings.HasSuffix(line, "; "+c.want) {
				t.Errorf("%s: %q, want %q and %q", name, line, begin, c.want)
			}
		}
	}
}
