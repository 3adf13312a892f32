package sim

import (
	"context"
	"fmt"
	"time"
)

// Machine is what the shop's program runs on, for faults that no person in
// the shop makes. Nil: it does not fail.
type Machine interface {
	// Fail makes the next append to the journal fail, once, in a way; Sound
	// takes it back. It answers the failure that was set and has not happened.
	Fail(how Failure) Failure
	// Unwritable refuses every append while it is on.
	Unwritable(on bool)
	// Restart ends the program as a kill does, and starts it again on the
	// same journal.
	Restart(ctx context.Context) error
	// Beside starts a second program on the same journal, or ends it. While it
	// runs, facts are told to one and the other in turn. Time does not pass
	// meanwhile.
	Beside(ctx context.Context, on bool) error
	// Other are the second program's clients.
	Other() Clients
	// Turn sets the program's clock by a length of time, back if below zero.
	Turn(by time.Duration)
}

// Failure is how an append fails.
type Failure int

// The ways in which an append fails.
const (
	Sound   Failure = iota
	Refused         // the journal says no, and nothing is stored
	Lost            // no answer, and nothing is stored
	Kept            // no answer, and it is stored
)

var failures = map[Failure]string{Refused: "append-refused", Lost: "append-lost", Kept: "append-unanswered"}

// stumbles lets an append fail now and then; it says how.
func (s *sim) stumbles() Failure {
	if s.opt.Machine == nil || s.began == 0 || s.stumble.IntN(s.opt.Habits.stumble()) != 0 {
		return Sound
	}
	how := Failure(1 + s.stumble.IntN(3))
	s.planted(failures[how], s.watch.mark())
	return how
}

// stumbling is among how many moves of time one has the first append of the
// program's own accord fail: an end of a clock, a permit taken back.
const stumbling = 40

// advance lets time pass up to a moment. Now and then something that the
// program tells of its own accord is not written at first.
func (s *sim) advance(to time.Time) error {
	if s.opt.Machine == nil || s.began == 0 || s.silent || s.stumble.IntN(stumbling) != 0 {
		return s.opt.Time.AdvanceTo(s.ctx, to)
	}
	how := Failure(1 + s.stumble.IntN(3))
	s.opt.Machine.Fail(how)
	err := s.opt.Time.AdvanceTo(s.ctx, to)
	if s.opt.Machine.Fail(Sound) == Sound {
		s.planted("own-"+failures[how], s.watch.mark())
		err = s.opt.Time.AdvanceTo(s.ctx, to)
	}
	return err
}

// mark is where the journal stands, for the log.
func (w *watcher) mark() string { return "behind event " + itoa(w.seq) }

// failing tells the shop something whose first append fails, and lets it come
// to rest. The answer must not be a yes, unless the event is stored: the shop
// may have read it back.
func (s *sim) failing(how Failure, what string, call func() error) {
	s.opt.Machine.Fail(how)
	err := call()
	s.opt.Machine.Fail(Sound)
	s.checks.count("I7")
	if err == nil && how != Kept {
		s.broken("I7", "%s was acknowledged though the journal had not said that it is stored (%s)", what, failures[how])
	}
	s.settle()
}

// restart ends the program and starts it again: what stands in no event is
// forgotten, all else is as it was.
func (s *sim) restart() {
	was := s.hash()
	if err := s.opt.Machine.Restart(s.ctx); err != nil {
		s.fail(err)
		return
	}
	if now := s.hash(); s.err == nil {
		s.checks.count("I10")
		if now != was {
			s.broken("I10", "the floor's hash was %s before the program was started again, it is %s", was, now)
		}
	}
	clear(s.heard)
	for t, at := range s.worked {
		s.heard[t] = at
	}
	s.settle()
}

// readable is so the more seldom the longer the journal is that a program has
// to read through when it starts: no length of it costs more than another.
func (s *sim) readable() bool { return s.stumble.Uint64N(s.watch.seq+1) < 8_000 }

// hash is that of the floor as it stands; empty if nobody can look inside.
func (s *sim) hash() string {
	if s.opt.Inspect == nil || s.err != nil {
		return ""
	}
	h, err := s.opt.Inspect.Hash(s.ctx)
	if err != nil {
		s.fail(fmt.Errorf("the floor's hash: %w", err))
	}
	return h
}

// restarts kills the program now and then while no permit runs. It must be
// what it was.
func (s *sim) restarts(p *proc) {
	for s.opt.Machine != nil {
		p.wait(s.days(8, 30))
		if !s.readable() {
			continue
		}
		p.poll(time.Minute, func() bool { return !s.permitRuns() && !s.silent })
		s.planted("restart", s.watch.mark())
		s.settle()
		s.catchUp()
		s.restart()
		s.catchUp()
		p.wait(2 * time.Minute)
		for _, b := range s.boothList() {
			s.decidesAgain(p, b)
		}
	}
}

// days is a chance length of time, to the second: it ends at any time of day.
func (s *sim) days(from, to float64) time.Duration {
	return time.Duration((from + (to-from)*s.stumble.Float64()) * 24 * float64(time.Hour)).Truncate(time.Second)
}

// standstills are times in which nothing can be written, outside the hours of
// work: readings and the ends of clocks wait, and are told afterwards.
func (s *sim) standstills(p *proc) {
	for s.opt.Machine != nil {
		p.wait(s.days(15, 50))
		p.poll(7*time.Minute, func() bool { return !s.hours.in(s.now, 0, prepOpens-time.Hour, prepCloses+3*time.Hour) })
		s.planted("journal-unwritable", s.watch.mark())
		s.settle()
		s.catchUp()
		s.silent = true
		s.opt.Machine.Unwritable(true)
		p.wait(s.minutes(20, 90))
		s.opt.Machine.Unwritable(false)
		s.silent = false
		s.settle()
		for _, b := range s.boothList() {
			s.decidesAgain(p, b)
		}
	}
}
