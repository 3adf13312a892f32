package app

import (
	"context"
	"errors"
	"net"
	"net/http"
	"time"

	"seamwright/services/rpc"
	"seamwright/services/screens"
)

// Times of the HTTP server. Streams have no write limit here: package screens
// cuts off a viewer that does not read.
const (
	headerWithin = 5 * time.Second
	idle         = 2 * time.Minute
	webGrace     = 2 * time.Second
)

// serveScreens serves the screens, if they are wanted.
func (a *App) serveScreens() error {
	if a.opt.Screens == "" {
		return nil
	}
	src, err := a.opt.Source(a)
	if err != nil {
		return err
	}
	l, err := rpc.Listen("the screens", a.opt.Screens)
	if err != nil {
		return err
	}
	a.addr.Screens = l.Addr().String()
	a.web = &http.Server{
		Handler:           screens.New(a.ctx, src, screens.Options{Shop: a.opt.Shop, Log: a.opt.Log}),
		ReadHeaderTimeout: headerWithin, IdleTimeout: idle,
		BaseContext: func(net.Listener) context.Context { return a.ctx },
	}
	a.running.Go(func() {
		if err := a.web.Serve(l); err != nil && !errors.Is(err, http.ErrServerClosed) {
			a.opt.Log.Error("screens ended", "err", err)
		}
	})
	return nil
}

// stopScreens ends the open streams with the program's context and lets the
// rest finish.
func (a *App) stopScreens() {
	if a.web == nil {
		return
	}
	ctx, cancel := context.WithTimeout(context.Background(), webGrace)
	defer cancel()
	a.end()
	if err := a.web.Shutdown(ctx); err != nil {
		_ = a.web.Close()
	}
}
