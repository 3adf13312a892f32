package app

import "github.com/nats-io/nats.go"

// Overhear hands everything that goes over the shop's bus from now on to fn.
func (a *App) Overhear(fn func(*nats.Msg)) error {
	if _, err := a.store.conn.Subscribe(">", fn); err != nil {
		return err
	}
	return a.store.conn.Flush()
}
