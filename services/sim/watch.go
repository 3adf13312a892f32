package sim

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"sync"

	"google.golang.org/protobuf/proto"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

// watcher follows the journal as any screen would.
type watcher struct {
	s        *sim
	seq      uint64
	commands map[string]uint64
	said     map[string]uint64 // announced and standing, by clock
	names    map[uint64]string // the clock that an announcement is about
}

func newWatcher(s *sim) *watcher {
	return &watcher{s: s, commands: map[string]uint64{}, said: map[string]uint64{}, names: map[uint64]string{}}
}

// catchUp reads what is new in the journal up to its end.
func (w *watcher) catchUp(each func(e *floorv1.Entry, body proto.Message)) {
	s := w.s
	if s.err != nil {
		return
	}
	stream, err := s.opt.Jobs.WatchFloor(s.ctx, &jobsv1.WatchFloorRequest{FromSequence: w.seq + 1, StopAtEnd: true})
	for err == nil {
		var resp *jobsv1.WatchFloorResponse
		if resp, err = stream.Recv(); err == nil {
			err = w.entry(resp.GetEntry(), each)
		}
	}
	if !errors.Is(err, io.EOF) {
		s.fail(fmt.Errorf("watching the journal from event %d: %w", w.seq+1, err))
	}
	s.led.lost(w.seq)
}

func (w *watcher) entry(e *floorv1.Entry, each func(*floorv1.Entry, proto.Message)) error {
	s := w.s
	body, err := e.GetBody().UnmarshalNew()
	if err != nil {
		return fmt.Errorf("event %d: %w", e.GetSequence(), err)
	}
	s.checks.count("I15")
	if e.GetSequence() != w.seq+1 {
		s.broken("I15", "the watchers see event %d after event %d", e.GetSequence(), w.seq)
		if e.GetSequence() <= w.seq {
			return nil
		}
	}
	w.seq = e.GetSequence()
	s.checks.count("I8")
	if was, twice := w.commands[e.GetCommandId()]; twice {
		s.broken("I8", "command %s is event %d and event %d", e.GetCommandId(), was, e.GetSequence())
	}
	w.commands[e.GetCommandId()] = e.GetSequence()
	s.checks.count("I7")
	known := s.led.shown(e, body)
	if !known && strings.HasPrefix(e.GetCommandId(), "sim-") && !s.granted[e.GetCommandId()] {
		s.broken("I7", "event %d is command %s, which was never acknowledged", e.GetSequence(), e.GetCommandId())
	}
	if b, ok := body.(interface{ GetAssessment() *floorv1.Assessment }); ok && b.GetAssessment() != nil {
		s.acc.judgedAgain(b.GetAssessment(), e.GetSequence())
	}
	each(e, body)
	return nil
}

// brought takes in what time and the gate brought.
func (s *sim) brought(e *floorv1.Entry, body proto.Message) {
	switch b := body.(type) {
	case *curesv1.WindowOpened:
		s.announced(e, ended{b.GetSeamId(), b.GetClock(), b.GetCoat(), b.GetBegan(), b.GetDue().AsTime(), true})
	case *curesv1.WindowClosed:
		if b.GetNozzleId() == "" {
			s.announced(e, ended{b.GetSeamId(), b.GetClock(), b.GetCoat(), b.GetBegan(), b.GetDue().AsTime(), false})
		}
	case *curesv1.WindowRetracted:
		s.retracted(b)
	case *boothv1.PermitIssued:
		s.issued(e, b)
	case *boothv1.PermitRevoked:
		s.revoked(e, b)
	case *boothv1.SprayStarted:
		if p := s.booths[b.GetBoothId()].permit; p != nil && p.id == b.GetPermitId() {
			p.ended = true
		}
	case *jobsv1.FindingRaised:
		s.raised(e, b.GetFinding())
	}
}

// raised takes in a finding that time, readings or a recall brought.
func (s *sim) raised(e *floorv1.Entry, f *floorv1.Finding) {
	d := due{f.GetRule(), f.GetSubject(), f.GetSeverity(), f.GetAboutSequence()}
	if d.about == 0 {
		d.about = e.GetSequence()
	}
	s.checks.count("account")
	if _, ok := s.acc.findings[d.key()]; !ok {
		s.broken("account", "extra finding %s (%s) of %s about event %d: %s", d.rule, word(d.severity), d.subject, d.about, f.GetReason())
	}
}

// listener keeps one stream open over the whole simulation and notes that it
// shows every event once and in order.
type listener struct {
	mu   sync.Mutex
	seq  uint64
	odd  string
	done chan struct{}
	end  context.CancelFunc
	more chan struct{}
}

func (s *sim) listen() *listener {
	ctx, end := context.WithCancel(s.ctx)
	l := &listener{done: make(chan struct{}), end: end, more: make(chan struct{}, 1)}
	stream, err := s.opt.Jobs.WatchFloor(ctx, &jobsv1.WatchFloorRequest{})
	if err != nil {
		end()
		s.fail(fmt.Errorf("watching the journal: %w", err))
		close(l.done)
		return l
	}
	go func() {
		defer close(l.done)
		for {
			resp, err := stream.Recv()
			if err != nil {
				return
			}
			l.mu.Lock()
			if seq := resp.GetEntry().GetSequence(); seq != l.seq+1 && l.odd == "" {
				l.odd = fmt.Sprintf("a standing watcher sees event %d after event %d", seq, l.seq)
			}
			l.seq = resp.GetEntry().GetSequence()
			l.mu.Unlock()
			select {
			case l.more <- struct{}{}:
			default:
			}
		}
	}()
	return l
}

// finish waits until the standing watcher has seen an event and reports what
// was odd about what it saw.
func (l *listener) finish(s *sim, last uint64) {
	if l == nil {
		return
	}
	defer func() { l.end(); <-l.done }()
	for {
		l.mu.Lock()
		seq, odd := l.seq, l.odd
		l.mu.Unlock()
		if odd != "" {
			s.broken("I15", "%s", odd)
			return
		}
		if seq >= last {
			s.checks.count("I15")
			return
		}
		select {
		case <-l.more:
		case <-l.done:
			if s.err == nil {
				s.broken("I15", "a standing watcher was cut off at event %d of %d", seq, last)
			}
			return
		case <-s.ctx.Done():
			return
		}
	}
}
