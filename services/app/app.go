package app

import (
	"context"
	"fmt"
	"net/http"
	"sync"
	"sync/atomic"
	"time"

	"google.golang.org/grpc"

	"seamwright/services/access"
	"seamwright/services/booth"
	"seamwright/services/clock"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/journal"
	"seamwright/services/record"
	"seamwright/services/rpc"
)

// App is a shop's program.
type App struct {
	opt     Options
	people  *access.Shop
	store   *store
	desk    *record.Desk
	gate    *booth.Gate
	rpc     *rpc.Server
	loop    *clock.Loop  // on a clock that runs
	drive   *clock.Drive // on a clock that is driven
	web     *http.Server
	doubted atomic.Bool // by an exercise
	addr    Addr

	ctx     context.Context
	end     context.CancelFunc
	running sync.WaitGroup
	stopped sync.Once
	stopErr error
}

// Addr is where a running shop can be reached; empty: not.
type Addr struct {
	GRPC    string // host:port
	Screens string // host:port
	Bus     string // URL
}

// New checks the options. Nothing is opened yet.
func New(o Options) (*App, error) {
	o = o.withDefaults()
	if err := o.check(); err != nil {
		return nil, err
	}
	return &App{opt: o}, nil
}

// Start opens the journal, folds the floor and serves. It returns when the
// shop can be used, or with the error that prevented it and nothing running.
// The context bounds the start only. An App is started once.
func (a *App) Start(ctx context.Context) error {
	a.ctx, a.end = context.WithCancel(context.Background())
	begun := time.Now()
	if err := a.start(ctx); err != nil {
		_ = a.Stop()
		return err
	}
	a.rpc.Healthy(true)
	a.opt.Log.Info("shop is open", "shop", a.opt.Shop, "took", time.Since(begun).Round(time.Millisecond),
		"sequence", a.desk.Writer.Seq(), "grpc", a.addr.GRPC, "screens", a.addr.Screens, "bus", a.addr.Bus)
	return nil
}

func (a *App) start(ctx context.Context) (err error) {
	if a.people, err = people(a.opt); err != nil {
		return err
	}
	if a.store, err = openStore(ctx, a.opt); err != nil {
		return err
	}
	if a.store.server != nil {
		a.addr.Bus = a.store.server.URL()
	}
	if err := a.fold(ctx); err != nil {
		return err
	}
	if err := a.serve(); err != nil {
		return err
	}
	return a.serveScreens()
}

// fold brings the floor to the journal's newest event.
func (a *App) fold(ctx context.Context) error {
	f := floor.New()
	a.desk = &record.Desk{Writer: journal.NewWriter(a.store.journal, f), Floor: f, Clock: a.opt.Clock}
	if err := a.desk.Writer.Step(ctx); err != nil {
		return err
	}
	return a.desk.Writer.Healthy()
}

// follow folds what is appended from now on.
func (a *App) follow() {
	if err := a.desk.Writer.Run(a.ctx); err != nil && a.ctx.Err() == nil {
		a.opt.Log.Error("the floor stopped: nothing is recorded and the gate holds", "err", err)
		a.rpc.Healthy(false)
	}
}

// serve makes the services, gives their actors a driver and listens.
func (a *App) serve() (err error) {
	parts := a.parts()
	a.rpc = rpc.NewServer(rpc.Options{Log: a.opt.Log, Vouch: vouch(a.people)}, func(r grpc.ServiceRegistrar) {
		for _, p := range parts {
			p.register(r)
		}
	})
	a.running.Go(a.follow)
	a.act(parts)
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

// poke wakes the actors whenever the floor moved on, or stopped.
func (a *App) poke() {
	w := a.desk.Writer
	for seq := w.Seq(); ; {
		err := w.WaitFor(a.ctx, seq+1)
		a.loop.Poke()
		if err != nil {
			return
		}
		seq = w.Seq()
	}
}

// Stop ends everything in the opposite order and returns when nothing of the
// shop runs any more. It may be called twice.
func (a *App) Stop() error {
	a.stopped.Do(func() {
		a.stopErr = a.stop()
	})
	return a.stopErr
}

func (a *App) stop() error {
	if a.end != nil {
		defer a.end()
	}
	a.stopScreens()
	if a.rpc != nil {
		a.rpc.Stop()
	}
	if a.end != nil {
		a.end()
	}
	a.running.Wait()
	if a.store == nil {
		return nil
	}
	return a.store.close()
}

// Addr is where the shop listens.
func (a *App) Addr() Addr { return a.addr }

// Dial makes a client connection inside the process, through the same
// interceptors as one from outside.
func (a *App) Dial() (*grpc.ClientConn, error) { return a.rpc.Dial() }

// Desk reads the floor, for what is fed inside the process.
func (a *App) Desk() *record.Desk { return a.desk }

// People are the people of the shop; nil when everybody is who they say.
func (a *App) People() *access.Shop { return a.people }

// AdvanceTo moves driven time on, and everything that is due with it.
func (a *App) AdvanceTo(ctx context.Context, to time.Time) error {
	if a.drive == nil {
		return fault.New(fault.Invalid, "clock-runs", fmt.Sprintf("the shop's clock runs by itself, it cannot be moved to %s", to.UTC().Format(time.RFC3339)),
			"make the shop with a driven clock")
	}
	return a.drive.AdvanceTo(ctx, to)
}

// Direct is a connection inside the process without the wire, behind the same
// interceptors: for simulations that call very often.
func (a *App) Direct() grpc.ClientConnInterface { return a.rpc.Direct() }
