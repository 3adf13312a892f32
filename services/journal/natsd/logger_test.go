package natsd

import (
	"bytes"
	"fmt"
	"log/slog"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// Logins that fail are told once a minute for each address, with how many
// lines were kept back; every other error is told.
func TestFailedLoginsAreToldOnceAMinute(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var out bytes.Buffer
		l := &logger{log: slog.New(slog.NewTextHandler(&out, nil))}
		try := func(host string, port int) {
			l.Errorf("%s:%d - cid:%d - authentication error - User %q", host, port, port, "bob")
		}
		told := func(want int) {
			t.Helper()
			if n := strings.Count(out.String(), "level=ERROR"); n != want {
				t.Errorf("%d lines, want %d:\n%s", n, want, out.String())
			}
		}
		for i := range 100 {
			try("192.0.2.1", 1000+i)
		}
		try("192.0.2.2", 1)
		told(2)
		l.Errorf("disk is full")
		told(3)
		time.Sleep(tellEvery) // of the test's own clock
		try("192.0.2.1", 5000)
		told(4)
		if !strings.Contains(out.String(), `"lines kept back"=99`) {
			t.Errorf("the count is missing:\n%s", out.String())
		}
		for i := range 2 * maxFailed {
			try(fmt.Sprintf("192.0.2.%d", i), 1)
		}
		if len(l.failed) > maxFailed {
			t.Errorf("%d addresses are remembered", len(l.failed))
		}
	})
}
