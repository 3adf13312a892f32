package app

import (
	"google.golang.org/grpc"

	"seamwright/services/clock"
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
	return []part{
		{name: "jobs", register: jobs.NewServer(a.desk, a.store.journal).Register},
		{name: "materials", register: materials.NewServer(a.desk).Register},
	}
}
