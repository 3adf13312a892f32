package app

import (
	"context"
	"errors"
	"slices"
	"time"

	"seamwright/services/bus"
	"seamwright/services/clock"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/health"
)

// healthy is whether the process can be trusted with a gate: nil, or all that
// is wrong, joined. It asks nobody and never waits, but in driven time, where
// nobody looks by himself.
func (a *App) healthy() error {
	var doubt error
	if p := a.doubt.Load(); p != nil {
		doubt = *p
	}
	if a.monitor == nil {
		return errors.Join(doubt, a.store.healthy())
	}
	return errors.Join(doubt, a.monitor.Healthy())
}

// watchOver makes what looks after the process, on a clock that runs. In
// driven time it would look by another clock than the shop lives by.
func (a *App) watchOver() {
	if _, driven := a.opt.Clock.(*clock.Driven); driven {
		return
	}
	a.even = health.Running()
	a.monitor = health.New(health.Options{Running: a.even, Log: a.opt.Log, Changed: func() { a.loop.Poke() }})
	a.monitor.Add((&health.Position{Last: a.store.journal.Last, Folded: a.desk.Writer.Seq, Running: a.even}).Check())
	a.clocks = &clockWatch{clock: a.opt.Clock, running: a.even, desk: a.desk}
	a.monitor.Add(a.clocks.check())
	a.store.appends.seen = a.desk.Writer.Seq
	a.monitor.Add(a.store.appends.check())
	if a.signs != nil && !a.runs("cures") {
		a.monitor.Add(a.signs.keptElsewhere())
	}
	if a.signs != nil && a.opt.Apart != nil && a.store.proof == nil {
		a.monitor.Add(a.signs.provedElsewhere())
	}
	if a.opt.Dir != "" && a.store.server != nil {
		disk := &health.Disk{Dir: HealthFolder(a.opt.Dir), MinFree: a.opt.MinFree}
		a.reopening = &reopening{disk: disk.Check(), stuck: a.store.appends.stuck, again: make(chan struct{})}
		a.monitor.Add(a.reopening.check())
		a.desk.Room = disk.Room
	}
	if a.store.proof != nil {
		a.monitor.Add(health.Check{
			Name: floor.HoldProof, What: "the proof of the records", Hint: "make its folder writable and start the program again",
			Every: health.Often, Within: health.Patience, Look: func(context.Context) error {
				return errors.Join(a.store.proof.Look(), a.store.healthy())
			},
		})
		scrub := &health.Scrub{Journal: a.store.journal, Proof: a.store.proof}
		a.monitor.Add(scrub.Check())
		room := a.desk.Room
		a.desk.Room = func() error {
			if err := scrub.Sound(); err != nil || room == nil {
				return err
			}
			return room()
		}
	}
}

// missed is how long the gate goes by a service that it does not hear any more:
// three signs of life, and so little that with the looks and the beat behind it
// whoever reads the gate holds within two seconds. Others count it as gone later
// (bus.Silence), for what they decide by it costs more.
const missed = 3 * bus.LifeEvery

// heardOf reports whether a service of a name, any for none, that fits was heard
// within missed.
func (s *signs) heardOf(service string, fits func(bus.Peer) bool) bool {
	now := time.Now()
	peers, _ := s.table.Of(service, now)
	return slices.ContainsFunc(peers, func(p bus.Peer) bool { return now.Sub(p.Heard) <= missed && fits(p) })
}

// keptElsewhere is the check that somebody keeps the cure clocks when this
// process does not: a service that has shown a sign of life lately.
func (s *signs) keptElsewhere() health.Check {
	return health.Check{
		Name: floor.HoldKeeper, What: "the cures service", Hint: "start a cures service for this shop",
		Every: health.Often, Within: health.Patience, Look: func(context.Context) error {
			if s.heardOf("cures", func(bus.Peer) bool { return true }) {
				return nil
			}
			return fault.New(fault.Unavailable, floor.HoldKeeper, "no service keeps the cure clocks: none was heard on the bus lately", "start a cures service for this shop")
		},
	}
}

// provedElsewhere is the check that somebody keeps the journal's proof when
// this process does not: without it a lost tail would not be found.
func (s *signs) provedElsewhere() health.Check {
	const hint = "start one of the shop's services with --proof and a folder"
	return health.Check{
		Name: floor.HoldProof, What: "the process that keeps the journal's proof", Hint: hint,
		Every: health.Often, Within: health.Patience, Look: func(context.Context) error {
			if s.heardOf("", func(p bus.Peer) bool { return p.Proof }) {
				return nil
			}
			return fault.New(fault.Unavailable, floor.HoldProof, "no process of the shop keeps the journal's proof: none was heard on the bus lately", hint)
		},
	}
}

// attend puts an actor under watch, by the name that the gate holds by when
// it does not act. In driven time its errors end the drive.
func (a *App) attend(name, what string, actor clock.Actor) clock.Actor {
	if a.monitor == nil {
		return actor
	}
	w := &health.Actor{Name: name, What: what, Actor: actor, Folded: a.desk.Writer.Seq, Running: a.even}
	a.monitor.Add(w.Check())
	a.attended = append(a.attended, w)
	return w
}

// look lets the monitor begin, and returns when every check has answered or
// its patience is over.
func (a *App) look(ctx context.Context) {
	if a.monitor == nil {
		return
	}
	ready := make(chan struct{})
	a.running.Go(func() { a.monitor.Run(a.ctx, func() { close(ready) }) })
	select {
	case <-ready:
	case <-ctx.Done():
	}
}
