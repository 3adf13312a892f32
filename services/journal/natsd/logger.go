package natsd

import (
	"fmt"
	"log/slog"
	"regexp"
	"sync"
	"time"
)

// logger hands the server's lines to slog. What the server calls a notice is
// its daily chatter and goes out at debug level.
// Logins that fail are told once a minute for each address: whoever tries
// without end must not fill the log.
type logger struct {
	log *slog.Logger

	mu     sync.Mutex
	failed map[string]*failed // by address
}

// failed is what is kept back of an address.
type failed struct {
	since time.Time
	kept  int // lines since then that were not told
}

const (
	tellEvery = time.Minute
	maxFailed = 256 // addresses that are remembered
)

// login finds the address in the server's line of a login that failed.
var login = regexp.MustCompile(`(?i)^(\S+):\d+ - .*authentication (error|failure|violation|timeout)`)

func (l *logger) Noticef(format string, v ...any) { l.log.Debug(fmt.Sprintf(format, v...)) }
func (l *logger) Debugf(format string, v ...any)  { l.log.Debug(fmt.Sprintf(format, v...)) }
func (l *logger) Tracef(format string, v ...any)  { l.log.Debug(fmt.Sprintf(format, v...)) }
func (l *logger) Warnf(format string, v ...any)   { l.log.Warn(fmt.Sprintf(format, v...)) }

func (l *logger) Errorf(format string, v ...any) {
	text := fmt.Sprintf(format, v...)
	m := login.FindStringSubmatch(text)
	if m == nil {
		l.log.Error(text)
		return
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	now, f := time.Now(), l.failed[m[1]]
	if f != nil && now.Sub(f.since) < tellEvery {
		f.kept++
		return
	}
	if f == nil {
		f = &failed{}
		if l.failed == nil || len(l.failed) >= maxFailed {
			l.failed = make(map[string]*failed)
		}
		l.failed[m[1]] = f
	}
	l.log.Error(text, "from", m[1], "lines kept back", f.kept)
	*f = failed{since: now}
}

// Fatalf does not end the process: Start finds that the server is not ready
// and says so.
func (l *logger) Fatalf(format string, v ...any) { l.log.Error(fmt.Sprintf(format, v...)) }
