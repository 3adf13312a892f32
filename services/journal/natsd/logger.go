package natsd

import (
	"fmt"
	"log/slog"
)

// logger hands the server's lines to slog. What the server calls a notice is
// its daily chatter and goes out at debug level.
type logger struct{ log *slog.Logger }

func (l *logger) Noticef(format string, v ...any) { l.log.Debug(fmt.Sprintf(format, v...)) }
func (l *logger) Debugf(format string, v ...any)  { l.log.Debug(fmt.Sprintf(format, v...)) }
func (l *logger) Tracef(format string, v ...any)  { l.log.Debug(fmt.Sprintf(format, v...)) }
func (l *logger) Warnf(format string, v ...any)   { l.log.Warn(fmt.Sprintf(format, v...)) }
func (l *logger) Errorf(format string, v ...any)  { l.log.Error(fmt.Sprintf(format, v...)) }

// Fatalf does not end the process: Start finds that the server is not ready
// and says so.
func (l *logger) Fatalf(format string, v ...any) { l.log.Error(fmt.Sprintf(format, v...)) }
