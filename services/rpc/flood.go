package rpc

import (
	"sync"
	"time"

	"google.golang.org/grpc/codes"

	"seamwright/services/fault"
)

// flood keeps the log from filling with the same refusal: while the disk is
// full every terminal tells again and again, and the log lies on that disk. Of
// calls of one method that are unavailable for one reason a line is told once
// in sayEvery, with how many were kept back.
type flood struct {
	mu   sync.Mutex
	said map[refusal]*lull
}

type refusal struct{ method, reason string }

// lull is what is kept back of a refusal.
type lull struct {
	since time.Time
	kept  int
}

// maxRefusals are remembered. Methods and reasons are the program's own, and
// few.
const maxRefusals = 256

// tell reports whether a call's line goes to the log, and how many like it
// were kept back before.
func (f *flood) tell(method string, code codes.Code, err error) (kept int, ok bool) {
	if code != codes.Unavailable {
		return 0, true
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	key, now := refusal{method, fault.ReasonOf(err)}, time.Now()
	l := f.said[key]
	if l != nil && now.Sub(l.since) < sayEvery {
		l.kept++
		return 0, false
	}
	if l != nil {
		kept = l.kept
	}
	if f.said == nil || len(f.said) >= maxRefusals {
		f.said = map[refusal]*lull{}
	}
	f.said[key] = &lull{since: now}
	return kept, true
}
