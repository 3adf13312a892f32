package natsd_test

import (
	"io"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"go.uber.org/goleak"

	"seamwright/services/fault"
	"seamwright/services/journal/natsd"
)

func quiet() *slog.Logger { return slog.New(slog.NewTextHandler(io.Discard, nil)) }

func start(t *testing.T, o natsd.Options) *natsd.Server {
	t.Helper()
	o.Logger = quiet()
	s, err := natsd.Start(o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Stop)
	return s
}

// What is asked is the running server, by its own status page, not the
// options that it was given.
func TestServerSyncsEveryWrite(t *testing.T) {
	s := start(t, natsd.Options{StoreDir: t.TempDir()})
	v, err := s.Varz()
	if err != nil {
		t.Fatal(err)
	}
	if c := v.JetStream.Config; c == nil || !c.SyncAlways {
		t.Fatalf("the server's own settings: %+v, want sync always", c)
	}
}

func TestSecondServerOnOneFolderIsRefused(t *testing.T) {
	dir := t.TempDir()
	s := start(t, natsd.Options{StoreDir: dir})
	_, err := natsd.Start(natsd.Options{StoreDir: dir, Logger: quiet()})
	if !fault.Is(err, "store-in-use") {
		t.Fatalf("second server on the folder: %v", err)
	}
	for _, part := range []string{dir, strconv.Itoa(os.Getpid()), "stop that process"} {
		if !strings.Contains(err.Error(), part) {
			t.Errorf("the error does not say %q: %v", part, err)
		}
	}
	s.Stop()
	start(t, natsd.Options{StoreDir: dir})
}

func TestTakenPortIsNamed(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	port := l.Addr().(*net.TCPAddr).Port
	dir := t.TempDir()
	_, err = natsd.Start(natsd.Options{StoreDir: dir, Listen: true, Port: port, Logger: quiet()})
	if !fault.Is(err, "port-taken") || !strings.Contains(err.Error(), strconv.Itoa(port)) {
		t.Fatalf("start on a taken port: %v", err)
	}
	// The failed start left nothing behind that holds the folder.
	start(t, natsd.Options{StoreDir: dir})
}

func TestFolderThatCannotBeMade(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := natsd.Start(natsd.Options{StoreDir: filepath.Join(file, "store"), Logger: quiet()}); !fault.Is(err, "store-folder") {
		t.Fatalf("folder under a file: %v", err)
	}
	if _, err := natsd.Start(natsd.Options{}); fault.KindOf(err) != fault.Invalid {
		t.Fatalf("no folder: %v", err)
	}
}

func TestStopLeavesNothingRunning(t *testing.T) {
	defer goleak.VerifyNone(t)
	s, err := natsd.Start(natsd.Options{StoreDir: t.TempDir(), Listen: true, MQTT: true, Users: []natsd.User{anybody(t, "far")}, Logger: quiet()})
	if err != nil {
		t.Fatal(err)
	}
	inside, err := s.Connect("inside")
	if err != nil {
		t.Fatal(err)
	}
	outside, err := natsd.Dial(as(s.URL(), "far", "pw-far"), "outside", quiet())
	if err != nil {
		t.Fatal(err)
	}
	for _, nc := range []interface{ Flush() error }{inside, outside} {
		if err := nc.Flush(); err != nil {
			t.Error(err)
		}
	}
	inside.Close()
	outside.Close()
	s.Stop()
	s.Stop()
}

func TestWithoutListenNoPortIsOpen(t *testing.T) {
	s := start(t, natsd.Options{StoreDir: t.TempDir()})
	if url := s.URL(); url != "" {
		t.Fatalf("a server that does not listen has the address %q", url)
	}
}
