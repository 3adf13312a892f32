package app

import (
	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/bus"
	"seamwright/services/journal"
)

// Journal is the running shop's journal, to be read back by tests.
func (a *App) Journal() journal.Journal { return a.store.journal }

// BeatOf is the form in which a gate's state goes out over the bus.
func BeatOf(g *boothv1.Gate) bus.Beat { return beatOf(g) }
