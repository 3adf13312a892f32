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
	"seamwright/services/cures"
	"seamwright/services/fault"
	"seamwright/services/health"
	"seamwright/services/journal"
	"seamwright/services/record"
	"seamwright/services/rpc"
)

// App is a shop's program.
type App struct {
	opt       Options
	people    *access.Shop
	store     *store
	desk      *record.Desk
	gate      *booth.Gate   // nil: another process has it
	cures     *cures.Server // nil: another process has it
	stand     *booth.Stand  // among other booth services
	signs     *signs        // of life, over the bus; nil: nobody else can be there
	started   time.Time     // by the shop's clock
	router    *rpc.Router   // to the services of other processes; nil: all are here
	rpc       *rpc.Server
	loop      *clock.Loop  // on a clock that runs
	drive     *clock.Drive // on a clock that is driven
	web       *http.Server
	doubt     atomic.Pointer[error] // for an exercise
	monitor   *health.Monitor
	attended  []*health.Actor
	clocks    *clockWatch          // nil in driven time
	reopening *reopening           // nil without a disk
	even      func() time.Duration // a clock that nobody sets; nil in driven time
	addr      Addr

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
	MQTT    string // host:port
	Reader  string // URL of the bus with a user who reads the gates, made at this start
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
	if a.opt.Apart != nil {
		err = a.await(ctx)
	} else {
		err = a.open(ctx)
	}
	if err != nil {
		return err
	}
	if err := a.serve(); err != nil {
		return err
	}
	if err := a.serveScreens(); err != nil {
		return err
	}
	return a.live()
}

// open opens the journal and folds the floor out of it.
func (a *App) open(ctx context.Context) (err error) {
	if a.store, err = openStore(ctx, a.opt); err != nil {
		return err
	}
	if a.store.server != nil {
		a.addr.Bus, a.addr.MQTT = a.store.server.URL(), a.store.server.MQTTAddr()
		a.addr.Reader = a.store.reader.url(a.addr.Bus)
	}
	return a.fold(ctx)
}

// fold brings the floor to the journal's newest event.
func (a *App) fold(ctx context.Context) (err error) {
	f := a.store.floor
	if f == nil {
		if f, err = replay(ctx, a.store.journal); err != nil {
			return err
		}
	}
	a.desk = &record.Desk{Writer: journal.NewWriter(a.store.journal, f), Floor: f, Clock: a.opt.Clock}
	if err := a.desk.Writer.Step(ctx); err != nil { // what came meanwhile
		return err
	}
	return a.desk.Writer.Healthy()
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
	if a.signs != nil {
		a.signs.leave()
	}
	a.stopScreens()
	if a.rpc != nil {
		a.rpc.Stop()
	}
	if a.end != nil {
		a.end()
	}
	a.running.Wait()
	if a.router != nil {
		_ = a.router.Close()
	}
	if a.store == nil {
		return nil
	}
	return a.store.close()
}

// Name is the shop's name in the journal and on the bus.
func (a *App) Name() string { return a.opt.Shop }

// Addr is where the shop listens.
func (a *App) Addr() Addr { return a.addr }

// Dial makes a client connection inside the process, through the same
// interceptors as one from outside.
func (a *App) Dial() (*grpc.ClientConn, error) { return a.rpc.Dial() }

// Conn makes calls to all services of the shop, wherever they run. It is the
// App's own; Stop ends it.
func (a *App) Conn() grpc.ClientConnInterface {
	if a.router != nil {
		return a.router
	}
	return a.Direct()
}

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
