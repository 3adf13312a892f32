package rpc

import (
	"bytes"
	"errors"
	"log/slog"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"seamwright/services/fault"
)

// The same refusal is one line a minute in the log, with how many were kept
// back; another reason, another method and what is no refusal are told.
func TestTheSameRefusalDoesNotFillTheLog(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var out bytes.Buffer
		s := &Server{log: slog.New(slog.NewTextHandler(&out, nil)), base: t.Context()}
		call := func(method string, err error) {
			if got := s.guarded(t.Context(), method, func() error { return err }); (got == nil) != (err == nil) {
				t.Fatalf("%v became %v", err, got)
			}
		}
		full := fault.New(fault.Unavailable, "disk-full", "the disk is full", "make room")
		for range 90 {
			for range 10 {
				call("/a/Record", full)
			}
			time.Sleep(time.Second) // of the bubble
		}
		lines := strings.Split(strings.TrimSpace(out.String()), "\n")
		if len(lines) != 2 || strings.Contains(lines[0], "kept back") || !strings.Contains(lines[1], `"lines kept back"=599`) || !strings.Contains(lines[1], "/a/Record") {
			t.Fatalf("%d lines:\n%s", len(lines), out.String())
		}
		out.Reset()
		call("/b/Record", full)
		call("/a/Record", fault.New(fault.Unavailable, "stopping", "stopping", ""))
		call("/a/Record", errors.New("ours"))
		call("/a/Record", errors.New("ours"))
		if n := strings.Count(out.String(), "\n"); n != 4 {
			t.Errorf("%d lines of 4:\n%s", n, out.String())
		}
	})
}
