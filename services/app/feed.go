package app

import (
	"seamwright/services/screens"
	"seamwright/services/screens/feed"
)

// Feed is what feeds the screens of a running shop: its floor to read, its
// services to post to. It is the usual Options.Source.
func Feed(a *App) (screens.Source, error) {
	return feed.New(feed.Options{
		Shop: a.opt.Shop, Desk: a.desk, Conn: a.Conn(), People: a.people, Zone: shopZone(), Speed: a.opt.Speed,
		Health: a.healthy,
	}), nil
}
