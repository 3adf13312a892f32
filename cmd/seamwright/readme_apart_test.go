package main

import (
	"bufio"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"
)

// section is the text below one heading of a document.
func section(t *testing.T, doc, heading string) string {
	t.Helper()
	b, err := os.ReadFile(doc)
	if err != nil {
		t.Fatal(err)
	}
	_, rest, ok := strings.Cut(string(b), "\n## "+heading+"\n")
	if !ok {
		t.Fatalf("%s has no section %q", doc, heading)
	}
	text, _, _ := strings.Cut(rest, "\n## ")
	return text
}

// TestReadmeNamesThePasswordsOfTheServer compares the variables that the
// README sets with those that the delivered configuration wants.
func TestReadmeNamesThePasswordsOfTheServer(t *testing.T) {
	t.Chdir("../..")
	conf, err := os.ReadFile("deploy/nats.conf")
	if err != nil {
		t.Fatal(err)
	}
	find := func(pattern, text string) []string {
		var out []string
		for _, m := range regexp.MustCompile(pattern).FindAllStringSubmatch(text, -1) {
			out = append(out, m[1])
		}
		slices.Sort(out)
		return slices.Compact(out)
	}
	wants := find(`\$(SEAMWRIGHT_[A-Z]+)`, string(conf))
	sets := find(`(SEAMWRIGHT_[A-Z]+)=change-me`, section(t, "README.md", "Services apart"))
	if len(wants) == 0 || !slices.Equal(wants, sets) {
		t.Errorf("deploy/nats.conf wants %q, the README sets %q", wants, sets)
	}
	unit, err := os.ReadFile("deploy/seamwright-nats.service")
	if err != nil {
		t.Fatal(err)
	}
	if has := find(`(SEAMWRIGHT_[A-Z]+)=`, string(unit)); !slices.Equal(wants, has) {
		t.Errorf("deploy/nats.conf wants %q, its unit names %q", wants, has)
	}
}

// TestReadmeRunsServicesApart pastes the blocks of that section into a shell,
// as a reader does who follows nothing else, but for the ports: the usual ones
// may be taken here.
func TestReadmeRunsServicesApart(t *testing.T) {
	if testing.Short() {
		t.Skip("builds a server and runs six processes")
	}
	t.Chdir("../..")
	root, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	blocks := strings.Split(section(t, "README.md", "Services apart"), "```\n")
	if len(blocks) < 5 {
		t.Fatalf("%d blocks to paste, want two", len(blocks)/2)
	}
	build, first, _ := strings.Cut(blocks[1], "\n")
	dir := t.TempDir()
	words := strings.Fields(strings.Replace(build, "-o nats-server", "-o "+filepath.Join(dir, "nats-server"), 1))
	if b, err := exec.CommandContext(t.Context(), words[0], words[1:]...).CombinedOutput(); err != nil {
		t.Fatalf("%s: %v\n%s", build, err, b)
	}
	ports := strings.NewReplacer("127.0.0.1:4222", free(t), "127.0.0.1:8222", free(t), "127.0.0.1:1883", free(t),
		"serve $service", "serve $service --screens=$(test $service = board && echo 127.0.0.1:0)")
	conf, err := os.ReadFile("deploy/nats.conf")
	if err == nil {
		err = os.Mkdir(filepath.Join(dir, "deploy"), 0o700)
	}
	if err == nil {
		err = os.WriteFile(filepath.Join(dir, "deploy", "nats.conf"), []byte(ports.Replace(string(conf))), 0o600)
	}
	if err == nil {
		err = os.Symlink(filepath.Join(root, "testdata"), filepath.Join(dir, "testdata"))
	}
	if err != nil {
		t.Fatal(err)
	}
	pasteApart(t, dir, ports.Replace(first), ports.Replace(blocks[3]))
}

// pasteApart runs the first block, and the second as soon as five processes
// say that they serve.
func pasteApart(t *testing.T, dir, first, second string) {
	t.Helper()
	script := "set -e\n" + first + "read go\n" + second + "echo pasted\nread done\n"
	sh := exec.Command("sh", "-c", script)
	sh.Dir, sh.SysProcAttr = dir, &syscall.SysProcAttr{Setpgid: true} // with all that it starts
	in, err := sh.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := sh.StdoutPipe()
	sh.Stderr = sh.Stdout
	if err == nil {
		err = sh.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	end := func() { _ = syscall.Kill(-sh.Process.Pid, syscall.SIGTERM) }
	late := time.AfterFunc(60*time.Second, end)
	defer late.Stop()
	var said []string
	serving := 0
	for lines := bufio.NewScanner(out); lines.Scan(); {
		said = append(said, lines.Text())
		if strings.HasPrefix(lines.Text(), "serving ") {
			if serving++; serving == 5 {
				fmt.Fprintln(in)
			}
		}
		if lines.Text() == "pasted" {
			end()
		}
	}
	_ = sh.Wait() // ended by this test; what counts is what it said
	all := strings.Join(said, "\n")
	sound := regexp.MustCompile(`(?m)^All [1-9][0-9]* records are there and unchanged\.$`)
	if serving != 5 || !slices.Contains(said, "pasted") || !sound.MatchString(all) {
		t.Errorf("%d services; it said\n%s", serving, all)
	}
}

// free is an address where nothing listens.
func free(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}
