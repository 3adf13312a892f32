package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/alecthomas/kong"

	"seamwright/services/console"
)

// TestDocsNameWhatExists reads the documents and looks for every path, every
// command and every flag that they name.
func TestDocsNameWhatExists(t *testing.T) {
	model := commandModel(t)
	for _, doc := range []string{"README.md", "DEVELOPERS.md", "testdata/shop/README.md"} {
		text, err := os.ReadFile(filepath.Join("../..", doc))
		if err != nil {
			t.Fatal(err)
		}
		dir := filepath.Join("../..", filepath.Dir(doc))
		named := 0
		for _, path := range pathsIn(string(text)) {
			named++
			if !exists(dir, path) && !exists("../..", path) {
				t.Errorf("%s names %q, which does not exist", doc, path)
			}
		}
		for _, line := range commandsIn(string(text)) {
			named++
			if why := unknown(model, strings.Fields(line)); why != "" {
				t.Errorf("%s: seamwright %s: %s", doc, line, why)
			}
		}
		if named == 0 {
			t.Errorf("%s: found nothing to check; the patterns of this test are out of date", doc)
		}
	}
}

// TestDocsCheckCanFail shows that what is not there is noticed.
func TestDocsCheckCanFail(t *testing.T) {
	if got := pathsIn("see `services/nowhere/at_all.go` and [this](testdata/none.md)"); len(got) != 2 || exists("../..", got[0]) || exists("../..", got[1]) {
		t.Errorf("paths %q: want two that do not exist", got)
	}
	if got := commandsIn("```\ngo run ./cmd/seamwright frobnicate --x\n```"); len(got) != 1 || unknown(commandModel(t), strings.Fields(got[0])) == "" {
		t.Errorf("commands %q: want one that is refused", got)
	}
	if unknown(commandModel(t), []string{"cure", "--no-such-flag", "1"}) == "" {
		t.Error("an unknown flag is not noticed")
	}
}

func commandModel(t *testing.T) *kong.Node {
	t.Helper()
	var c commands
	p, err := kong.New(&c, kong.Name("seamwright"), kong.Vars{"grpc": console.DefaultGRPC, "screens": console.DefaultScreens})
	if err != nil {
		t.Fatal(err)
	}
	return p.Model.Node
}

var (
	quoted = regexp.MustCompile("`([^`\n]+)`")
	linked = regexp.MustCompile(`\]\(([^)#:]+)\)`)
	asPath = regexp.MustCompile(`^\.?[A-Za-z0-9_*{},.-]+(/[A-Za-z0-9_*{},.-]*)*$`)
	spoken = regexp.MustCompile(`(?m)(?:^|\x60)\s*(?:\$ )?(?:go run \./cmd/seamwright|seamwright) ([a-z][^\n\x60|>]*)`)
)

// pathsIn lists what a document names as a path of the tree: quoted words
// with a slash or a known ending, and relative links.
func pathsIn(text string) []string {
	var out []string
	for _, m := range quoted.FindAllStringSubmatch(text, -1) {
		w := strings.TrimSuffix(m[1], "/")
		known := regexp.MustCompile(`\.(go|md|proto|yaml|csv|txt|binpb|service|mod)$`).MatchString(w) || strings.HasPrefix(w, "services/") ||
			strings.HasPrefix(w, "testdata/") || strings.HasPrefix(w, "proto/") || strings.HasPrefix(w, "cmd/") || w == ".ci/run" || w == "deploy"
		if known && asPath.MatchString(w) && !strings.Contains(w, "people.yaml") && w != "bus.yaml" { // these a shop makes
			out = append(out, w)
		}
	}
	for _, m := range linked.FindAllStringSubmatch(text, -1) {
		out = append(out, m[1])
	}
	return out
}

func exists(dir, path string) bool {
	if found, err := filepath.Glob(filepath.Join(dir, path)); err == nil && len(found) > 0 {
		return true
	}
	_, err := os.Stat(filepath.Join(dir, path))
	return err == nil
}

// commandsIn lists the command lines that a document shows, without the
// program's name.
func commandsIn(text string) []string {
	var out []string
	for _, m := range spoken.FindAllStringSubmatch(text, -1) {
		line, _, _ := strings.Cut(m[1], "  ")
		out = append(out, strings.TrimSpace(line))
	}
	return out
}

// unknown says what of a command line the program does not know.
func unknown(n *kong.Node, words []string) string {
	cmd := n
	for len(words) > 0 {
		child := childOf(cmd, words[0])
		if child == nil {
			break
		}
		cmd, words = child, words[1:]
	}
	if cmd == n {
		return "no such command"
	}
	flags := map[string]bool{"help": true, "json": true}
	for c := cmd; c != nil; c = c.Parent {
		for _, f := range c.Flags {
			flags[f.Name] = true
		}
	}
	for _, w := range words {
		if name, ok := strings.CutPrefix(w, "--"); ok {
			name, _, _ = strings.Cut(name, "=")
			if !flags[name] {
				return "no flag --" + name
			}
		}
	}
	return ""
}

func childOf(n *kong.Node, name string) *kong.Node {
	for _, c := range n.Children {
		if c.Type == kong.CommandNode && c.Name == name {
			return c
		}
	}
	return nil
}
