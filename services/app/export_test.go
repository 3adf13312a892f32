package app

import "seamwright/services/journal"

// Journal is the running shop's journal, to be read back by tests.
func (a *App) Journal() journal.Journal { return a.store.journal }
