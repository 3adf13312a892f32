package app

import (
	"time"

	"google.golang.org/grpc"

	"seamwright/services/clock"
	"seamwright/services/rpc"
)

// follow folds what is appended from now on.
func (a *App) follow() {
	if err := a.desk.Writer.Run(a.ctx); err != nil && a.ctx.Err() == nil {
		a.opt.Log.Error("the floor stopped: nothing is recorded and the gate holds", "err", err)
		a.rpc.Healthy(false)
	}
}

// serve makes the services, gives their actors a driver and listens.
func (a *App) serve() (err error) {
	if err := a.company(); err != nil {
		return err
	}
	a.watchOver()
	parts := a.parts()
	a.rpc = rpc.NewServer(rpc.Options{Log: a.opt.Log, Vouch: vouch(a.people), Longest: a.longest()}, func(r grpc.ServiceRegistrar) {
		for _, p := range parts {
			if p.register != nil {
				p.register(r)
			}
		}
	})
	a.running.Go(a.follow)
	a.act(parts)
	a.look(a.ctx)
	if a.opt.GRPC == "" {
		return nil
	}
	at, err := a.rpc.Listen(a.opt.GRPC)
	if err != nil {
		return err
	}
	a.addr.GRPC = at.String()
	return nil
}

// act steps the services' actors: by themselves, or when time is driven.
func (a *App) act(parts []part) {
	var add func(string, clock.Actor)
	if d, ok := a.opt.Clock.(*clock.Driven); ok {
		a.drive = clock.NewDrive(d, a.store.journal, a.desk.Writer)
		add = a.drive.Add
	} else {
		a.loop = clock.NewLoop(a.opt.Clock, a.opt.Log)
		add = a.loop.Add
	}
	for _, p := range parts {
		if p.actor != nil {
			add(p.name, p.actor)
		}
	}
	if a.loop != nil {
		a.running.Go(func() { a.loop.Run(a.ctx) })
		a.running.Go(a.poke)
	}
}

// pokeAfter is how long the actors are let be after an event. Whoever told it
// is answered first, and for many events that come close together the actors
// look once; what must not wait, a ground that falls away, is seen at the event.
const pokeAfter = 2 * time.Millisecond

// poke wakes the actors whenever the floor moved on, or stopped.
func (a *App) poke() {
	w := a.desk.Writer
	for seq := w.Seq(); ; {
		err := w.WaitFor(a.ctx, seq+1)
		if err == nil {
			select {
			case <-time.After(pokeAfter):
			case <-a.ctx.Done():
			}
		}
		seq = w.Seq() // before the poke: what comes behind it pokes again
		a.loop.Poke()
		if err != nil {
			return
		}
	}
}

// longest is how long a call may take; 0: as the server likes it. In driven
// time a slow machine must not change what happens, so that a seed tells the
// same story anywhere.
func (a *App) longest() time.Duration {
	if _, driven := a.opt.Clock.(*clock.Driven); driven {
		return drivenCall
	}
	return 0
}

// drivenCall ends a call that hangs, in driven time.
const drivenCall = time.Hour
