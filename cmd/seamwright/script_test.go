package main

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"syscall"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"seamwright": main})
}

// The scripts under testdata say what a person types and what comes back.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata",
		Condition: func(name string) (bool, error) {
			if name == "hangup" { // under nohup nothing hears of a closed window
				return !signal.Ignored(syscall.SIGHUP), nil
			}
			return false, fmt.Errorf("no condition %s", name)
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"waitfor": waitFor, "change": change, "hangup": hangUp, "quit": quit,
		},
	})
}

// waitFor goes on as soon as a file is there: waitfor PATTERN.
func waitFor(ts *testscript.TestScript, _ bool, args []string) {
	tick := time.NewTicker(5 * time.Millisecond)
	defer tick.Stop()
	limit := time.NewTimer(20 * time.Second)
	defer limit.Stop()
	for {
		found, err := filepath.Glob(ts.MkAbs(args[0]))
		ts.Check(err)
		if len(found) > 0 {
			return
		}
		select {
		case <-tick.C:
		case <-limit.C:
			ts.Fatalf("%s did not appear within 20 s", args[0])
		}
	}
}

// hangUp is what a terminal tells the commands in its background when its
// window is closed.
func hangUp(ts *testscript.TestScript, _ bool, _ []string) {
	for _, c := range ts.BackgroundCmds() {
		ts.Check(c.Process.Signal(syscall.SIGHUP))
	}
}

// quit sends SIGQUIT, as Ctrl-\ does, to the programs in the background that
// were started with an argument: quit ARGUMENT.
func quit(ts *testscript.TestScript, _ bool, args []string) {
	for _, c := range ts.BackgroundCmds() {
		if slices.Contains(c.Args, args[0]) {
			ts.Check(c.Process.Signal(syscall.SIGQUIT))
		}
	}
}

// change replaces text of the same length in the files of a folder, as a
// damaged disk would: change DIR OLD NEW.
func change(ts *testscript.TestScript, _ bool, args []string) {
	n := 0
	ts.Check(filepath.WalkDir(ts.MkAbs(args[0]), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		if err != nil || !bytes.Contains(b, []byte(args[1])) {
			return err
		}
		n++
		return os.WriteFile(path, bytes.ReplaceAll(b, []byte(args[1]), []byte(args[2])), 0o600)
	}))
	if n == 0 {
		ts.Fatalf("no file under %s holds %q", args[0], args[1])
	}
}
