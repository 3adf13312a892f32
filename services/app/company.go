package app

import (
	"errors"
	"time"

	"seamwright/services/booth"
	"seamwright/services/bus"
	"seamwright/services/clock"
	"seamwright/services/rpc"
)

// company finds the shop's other processes, where there can be any: on a
// server of its own, or on this process's when it listens.
func (a *App) company() (err error) {
	if _, driven := a.opt.Clock.(*clock.Driven); driven || a.store.conn == nil || a.opt.Apart == nil && a.opt.Bus == "" {
		return nil
	}
	if a.signs, err = listen(a.store.conn, a.opt.Shop, a.opt.Clock); err != nil {
		return err
	}
	a.started = a.opt.Clock.Now().UTC().Truncate(time.Millisecond)
	a.stand = booth.NewStand(a.opt.Holder, a.started, a.opt.Apart == nil)
	if a.opt.Apart != nil {
		a.router, err = rpc.NewRouter(a.signs)
	}
	return err
}

// amongOthers lets a gate know of the shop's other booth services.
func (a *App) amongOthers(o *booth.Options) {
	if a.signs == nil {
		return
	}
	o.Standing, o.Spread = a.standing, a.signs.spread
	o.Health = func() error { return errors.Join(a.healthy(), a.signs.clocksAgree()) }
}

// standing is what the booth service is among others, now.
func (a *App) standing() booth.Standing {
	others, echo := a.signs.others(a.opt.Holder)
	return a.stand.Look(time.Now(), others, echo)
}

// live begins to show the others that this process lives, and takes in what
// they tell.
func (a *App) live() error {
	if a.store.proof != nil && (a.opt.Apart != nil || a.opt.Bus != "") {
		a.running.Go(a.takeOver)
	}
	if a.store.server != nil && a.opt.onBus() {
		a.running.Go(a.watchUsers)
	}
	if a.cures != nil {
		if err := a.takeProbes(a.cures); err != nil {
			return err
		}
	}
	if a.opt.Apart != nil {
		a.running.Go(a.watchServer)
	}
	if a.signs == nil {
		return nil
	}
	if a.gate != nil {
		if err := a.signs.takeHeard(a.gate); err != nil {
			return err
		}
	}
	at := a.reachable()
	a.signs.show(func() []bus.Life { return a.lives(at) })
	a.running.Go(func() { a.signs.run(a.ctx) })
	return nil
}

// watchServer lets the health service say whether the server that holds the
// journal is there.
func (a *App) watchServer() {
	changed := a.store.conn.StatusChanged()
	for {
		select {
		case <-changed:
			a.rpc.Healthy(a.store.conn.IsConnected() && a.desk.Writer.Healthy() == nil)
		case <-a.ctx.Done():
			return
		}
	}
}

// lives are the signs of life of this process's services.
func (a *App) lives(at string) (out []bus.Life) {
	names := parts()
	if p := a.opt.Apart; p != nil {
		names = p.Services
	}
	for _, name := range names {
		if name == Board && a.web == nil {
			continue
		}
		l := bus.Life{
			Service: name, Instance: a.opt.Instance, Address: at, Sequence: a.desk.Writer.Seq(),
			Started: a.started, Now: a.opt.Clock.Now().UTC().Round(0), Active: true, Proof: a.store.proof != nil,
		}
		if name == "booth" {
			l.Instance, l.Active = a.opt.Holder, a.standing().Active
		}
		out = append(out, l)
	}
	return out
}

// takeOver takes into the proof what other processes append.
func (a *App) takeOver() {
	if err := a.store.proof.Run(a.ctx); err != nil && a.ctx.Err() == nil {
		a.opt.Log.Error("the proof takes in nothing any more from other processes", "err", err)
		a.store.unproved.Store(&err)
	}
}
