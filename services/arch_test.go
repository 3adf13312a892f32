// Package services_test holds the import order of the tree: cmd, console and
// app, then screens, sim and the services, then record, journal, rpc and
// access, then floor and intake, then calc, clock and fault.
package services_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// rule says what a folder of the tree may import, and why.
type rule struct {
	dir   string   // with all below it, unless a longer rule matches
	own   []string // folders of this module that it may import, each with all below
	alien []string // prefixes of modules outside the standard library
	not   []string // standard library packages that it must not import
	why   string
}

// pure is what arithmetic must not know.
var pure = []string{"context", "net", "net/http", "log", "log/slog", "os", "math/rand", "math/rand/v2", "database/sql", "os/signal"}

var rules = []rule{
	{dir: "services/fault", why: "everybody reports errors with it, so it knows nobody"},
	{
		dir: "services/calc", own: []string{"services/calc", "services/fault"}, alien: []string{"gonum.org/v1/gonum"}, not: pure,
		why: "arithmetic is a function of its arguments: no clock, context, network, proto, log",
	},
	{
		dir: "services/clock", own: []string{"services/fault"},
		why: "the one clock of a process and what it steps; it knows no domain",
	},
	{
		dir: "services/floor", own: []string{"services/calc", "services/fault", "proto"}, alien: []string{"google.golang.org/protobuf"}, not: pure,
		why: "the fold and its decisions are pure; events are the generated messages",
	},
	{
		dir: "services/intake", own: []string{"services/calc", "services/fault"}, alien: []string{"go.yaml.in/yaml/v3"},
		why: "reads files into plain values; who records them is another's business",
	},
	{
		dir: "services/journal", own: []string{"services/journal", "services/floor", "services/fault"},
		alien: []string{"google.golang.org/protobuf", "golang.org/x/mod/sumdb", "golang.org/x/sys"},
		why:   "append and follow; the interface knows no engine",
	},
	{
		dir: "services/journal/jet", own: []string{"services/journal", "services/floor", "services/fault"},
		alien: []string{"github.com/nats-io/", "github.com/synadia-io/orbit.go/"},
		why:   "only the journal on JetStream and the embedded server know NATS",
	},
	{
		dir: "services/journal/natsd", own: []string{"services/fault"}, alien: []string{"github.com/nats-io/", "golang.org/x/sys", "golang.org/x/crypto/bcrypt"},
		why: "only the journal on JetStream and the embedded server know NATS",
	},
	{
		dir: "services/bus", own: []string{"services/fault"}, not: pure,
		why: "names and messages beside the journal, and the judge of a gate's beats, as plain values: a reader is tested without a bus",
	},
	{
		dir: "services/access", own: []string{"services/floor", "services/fault"}, alien: []string{"golang.org/x/crypto", "go.yaml.in/yaml/v3"},
		why: "people and PINs; roles are the floor's",
	},
	{
		dir: "services/rpc", own: []string{"services/fault", "proto"},
		alien: []string{"google.golang.org/", "github.com/grpc-ecosystem/", "buf.build/"},
		why:   "faults and interceptors over the wire, whatever the service",
	},
	{
		dir: "services/record", own: []string{"services/journal", "services/floor", "services/clock", "services/fault", "proto"},
		alien: []string{"google.golang.org/protobuf"},
		why:   "the one way in which a told fact becomes an event",
	},
	{
		dir: "services/past", own: []string{"services/journal", "services/floor", "services/calc", "proto"}, alien: []string{"google.golang.org/protobuf"},
		why: "makes up a shop's journal by the real rules, for what must be measured or damaged",
	},
	{
		dir: "services/health", own: []string{"services/journal", "services/clock", "services/fault"}, alien: []string{"golang.org/x/mod/sumdb"},
		why: "looks after a process: disk, clock, position, records; what the gate makes of it is the gate's",
	},
	{
		dir: "services/probes", own: []string{"services/bus", "services/intake", "services/fault"},
		why: "what probes send over the bus becomes readings, whoever brings it and whoever records them: it knows neither NATS nor the service of the cures",
	},
	{dir: "services/jobs", own: service("jobs"), alien: served, why: "a service never imports another service"},
	{dir: "services/materials", own: service("materials"), alien: served, why: "a service never imports another service"},
	{dir: "services/cures", own: service("cures"), alien: served, why: "a service never imports another service"},
	{dir: "services/booth", own: service("booth"), alien: served, why: "a service never imports another service"},
	{
		dir: "services/screens", own: []string{"services/fault"},
		why: "pages are drawn from plain values, so a gallery can serve them from fixed data",
	},
	{
		dir: "services/screens/feed", own: []string{"services/screens", "services/record", "services/floor", "services/journal", "services/clock", "services/access", "services/calc", "services/fault", "proto"},
		alien: []string{"google.golang.org/"},
		why:   "feeds the screens from the floor and posts through the public clients",
	},
	{
		dir: "services/sim", own: []string{"services/intake", "services/console", "services/calc", "services/fault", "proto"},
		alien: []string{"google.golang.org/"},
		why:   "a simulated shop stands outside: public clients only, and an account of its own",
	},
	{
		dir: "services/app", own: []string{"services", "proto"},
		alien: []string{"google.golang.org/", "github.com/nats-io/"},
		why:   "the one place that wires everything",
	},
	{
		dir: "services/bench", own: []string{"services", "proto"}, alien: []string{"google.golang.org/", "github.com/nats-io/"},
		why: "opens whole shops and bare JetStream side by side",
	},
	{
		dir: "services/console", own: []string{"services", "proto", "testdata/shop"}, alien: []string{"google.golang.org/"},
		why: "what the commands do, apart from their flags",
	},
	{
		dir: "cmd/seamwright", own: []string{"services/console", "services/app", "services/fault"},
		alien: []string{"github.com/alecthomas/kong"},
		why:   "flags and signals, no logic",
	},
}

// served is what a gRPC service needs from outside.
var served = []string{"google.golang.org/grpc", "google.golang.org/protobuf"}

// service lists what a service may import: never another service.
func service(name string) []string {
	return []string{
		"services/record", "services/journal", "services/floor", "services/access", "services/calc", "services/clock", "services/fault",
		"proto", "services/" + name,
	}
}

func TestImportOrder(t *testing.T) {
	seen := map[string]bool{}
	for file, imports := range sources(t) {
		r, ok := ruleOf(filepath.Dir(file))
		if !ok {
			t.Errorf("%s: no rule says what its folder may import; add one with its reason", file)
			continue
		}
		seen[r.dir] = true
		for _, imp := range imports {
			if why := r.refuses(imp); why != "" {
				t.Errorf("%s imports %s: %s (%s: %s)", file, imp, why, r.dir, r.why)
			}
		}
	}
	for _, r := range rules {
		if !seen[r.dir] {
			t.Errorf("a rule stands for %s, where there is no Go file; take it away", r.dir)
		}
	}
}

// TestRulesRefuse shows that the rules can say no.
func TestRulesRefuse(t *testing.T) {
	for _, c := range []struct{ dir, imp string }{
		{"services/calc/cure", "context"},
		{"services/calc/cure", "seamwright/proto/seamwright/jobs/v1"},
		{"services/floor", "log/slog"},
		{"services/floor", "google.golang.org/grpc"},
		{"services/jobs", "seamwright/services/booth"},
		{"services/journal", "github.com/nats-io/nats.go"},
		{"services/screens", "seamwright/services/floor"},
		{"services/sim", "seamwright/services/floor"},
		{"cmd/seamwright", "seamwright/services/floor"},
	} {
		r, ok := ruleOf(c.dir)
		if !ok || r.refuses(c.imp) == "" {
			t.Errorf("%s may import %s, which must be refused", c.dir, c.imp)
		}
	}
}

// TestNoClockInThePure looks for calls that read the time of day or roll dice
// where the moment must be an argument.
func TestNoClockInThePure(t *testing.T) {
	fset := token.NewFileSet()
	for file := range sources(t) {
		dir := filepath.ToSlash(filepath.Dir(file))
		if !strings.HasPrefix(dir, "services/calc") && !under(dir, "services/floor") {
			continue
		}
		f, err := parser.ParseFile(fset, filepath.Join("..", file), nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(n ast.Node) bool {
			if s, ok := n.(*ast.SelectorExpr); ok {
				if x, ok := s.X.(*ast.Ident); ok && x.Name == "time" && slices.Contains([]string{"Now", "Since", "Until", "After", "Tick", "Sleep", "NewTimer"}, s.Sel.Name) {
					t.Errorf("%s: time.%s; the moment is an argument", fset.Position(s.Pos()), s.Sel.Name)
				}
			}
			return true
		})
	}
}

func (r rule) refuses(imp string) string {
	if own, ok := strings.CutPrefix(imp, "seamwright/"); ok {
		if own == r.dir || slices.ContainsFunc(r.own, func(d string) bool { return under(own, d) }) {
			return ""
		}
		return "not below it in the order"
	}
	first, _, _ := strings.Cut(imp, "/")
	if strings.Contains(first, ".") {
		if slices.ContainsFunc(r.alien, func(p string) bool { return strings.HasPrefix(imp, p) }) {
			return ""
		}
		return "an outside module that has no place here"
	}
	if slices.Contains(r.not, imp) {
		return "must not know it"
	}
	return ""
}

func under(path, dir string) bool { return path == dir || strings.HasPrefix(path, dir+"/") }

func ruleOf(dir string) (rule, bool) {
	dir = filepath.ToSlash(dir)
	var best rule
	ok := false
	for _, r := range rules {
		if under(dir, r.dir) && (!ok || len(r.dir) > len(best.dir)) {
			best, ok = r, true
		}
	}
	return best, ok
}

// sources lists the Go files of the tree, apart from tests and what is only
// imported by tests, with their imports.
func sources(t *testing.T) map[string][]string {
	t.Helper()
	out := map[string][]string{}
	for _, top := range []string{"services", "cmd"} {
		err := filepath.WalkDir(filepath.Join("..", top), func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
				return err
			}
			rel, err := filepath.Rel("..", path)
			if err != nil || strings.HasSuffix(filepath.Dir(rel), "test") {
				return err // journaltest and the like serve tests only
			}
			f, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
			if err != nil {
				return err
			}
			imports := []string{}
			for _, i := range f.Imports {
				p, err := strconv.Unquote(i.Path.Value)
				if err != nil {
					return err
				}
				imports = append(imports, p)
			}
			out[filepath.ToSlash(rel)] = imports
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return out
}
