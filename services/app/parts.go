package app

import (
	"google.golang.org/grpc"

	"seamwright/services/booth"
	"seamwright/services/clock"
	"seamwright/services/cures"
	"seamwright/services/jobs"
	"seamwright/services/materials"
)

// part is one service of the program.
type part struct {
	name     string
	register func(grpc.ServiceRegistrar)
	actor    clock.Actor // what it does by itself; nil: nothing
}

// parts are the services, in the order in which their actors are stepped in
// driven time.
func (a *App) parts() []part {
	_, driven := a.opt.Clock.(*clock.Driven)
	a.gate = booth.NewGate(a.desk, booth.Options{Holder: a.opt.Holder, Health: a.healthy, Quiet: driven})
	return []part{
		{name: "jobs", register: jobs.NewServer(a.desk, a.store.journal).Register},
		{name: "materials", register: materials.NewServer(a.desk).Register},
		{name: "cures", register: cures.NewServer(a.desk).Register, actor: cures.NewKeeper(a.desk)},
		{name: "booth", register: booth.NewServer(a.desk, a.gate, a.people).Register, actor: a.gate},
	}
}
