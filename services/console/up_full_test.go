package console

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"seamwright/services/access"
	"seamwright/services/app"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// A shop that cannot be opened because its disk is full says that, and not
// that a folder must be made writable.
func TestUpOnAFullDiskSaysSo(t *testing.T) {
	for name, people := range map[string]bool{"a new shop": false, "one that has people": true} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=1m"); err != nil {
				if os.Getenv("CI") != "" {
					t.Fatalf("no disk to fill: %v", err)
				}
				t.Skipf("NOT RUN: a disk to fill takes the right to mount one: %v", err)
			}
			t.Cleanup(func() {
				if err := syscall.Unmount(dir, 0); err != nil {
					t.Error(err)
				}
			})
			if people {
				if _, err := access.Enrol(app.PeopleFile(dir), access.Person{Name: "Ansa Vellacorn", Role: floor.Foreman}, "2468"); err != nil {
					t.Fatal(err)
				}
			}
			if err := os.WriteFile(filepath.Join(dir, "filler"), make([]byte, 2<<20), 0o600); !errors.Is(err, syscall.ENOSPC) {
				t.Fatalf("the disk is not full: %v", err)
			}
			err := Up{Dir: dir, Shop: "demo", GRPC: "127.0.0.1:0", Log: slog.New(slog.DiscardHandler)}.Run(t.Context(), Out{W: io.Discard})
			if !fault.Is(err, "disk-full") || !strings.Contains(err.Error(), "is full") || !strings.Contains(err.Error(), "free some space") || strings.Contains(err.Error(), "writable") {
				t.Errorf("it says %v", err)
			}
		})
	}
}

// Addresses at which nothing can listen are refused by the flag that gave
// them, before anything is made.
func TestAddressesThatCannotBe(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "shop")
	log := slog.New(slog.DiscardHandler)
	for flag, q := range map[string]interface {
		Run(ctx context.Context, o Out) error
	}{
		"--grpc":      Up{Dir: dir, GRPC: "999999", Log: log},
		"--screens":   Up{Dir: dir, Screens: "127.0.0.1:65536", Log: log},
		"--bus":       Up{Dir: dir, Bus: "127.0.0.1:-1", Log: log},
		"--mqtt":      Up{Dir: dir, MQTT: "127.0.0.1:mqtt", Log: log},
		"--advertise": Serve{NATS: "nats://127.0.0.1:1", Services: []string{"jobs"}, Advertise: "desk", Log: log},
	} {
		err := q.Run(t.Context(), Out{W: io.Discard})
		if err == nil {
			t.Errorf("%s: taken", flag)
			continue
		}
		if line, status := Explain(err); status != ExitRefused || !strings.HasPrefix(line, flag+": ") || !strings.Contains(line, "65535") {
			t.Errorf("%s: %d %s", flag, status, line)
		}
	}
	if _, err := os.Stat(dir); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a folder was made: %v", err)
	}
}

// People alone say nothing to a shop: the refusal says what they go beside.
func TestPeopleAloneAreNotImported(t *testing.T) {
	err := Import{People: "people.yaml"}.Run(t.Context(), Out{W: io.Discard})
	if line, status := Explain(err); status != ExitRefused || !strings.HasPrefix(line, "--people: ") || !strings.Contains(line, "--zones") || !strings.Contains(line, "seamwright terminal") {
		t.Errorf("%d %s", status, line)
	}
}
