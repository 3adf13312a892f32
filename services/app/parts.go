package app

import (
	"cmp"
	"time"

	"google.golang.org/grpc"

	"seamwright/services/booth"
	"seamwright/services/bus"
	"seamwright/services/clock"
	"seamwright/services/cures"
	"seamwright/services/floor"
	"seamwright/services/jobs"
	"seamwright/services/materials"
)

// part is one service of the program.
type part struct {
	name     string
	register func(grpc.ServiceRegistrar) // nil: it answers nobody
	actor    clock.Actor                 // what it does by itself; nil: nothing
}

// parts are the services that run here, in the order in which their actors
// are stepped in driven time.
func (a *App) parts() (out []part) {
	if a.runs("jobs") {
		out = append(out, part{name: "jobs", register: jobs.NewServer(a.desk, a.store.journal).Register})
	}
	if a.runs("materials") {
		out = append(out, part{name: "materials", register: materials.NewServer(a.desk).Register})
	}
	if a.runs("cures") {
		keeper := a.attend(floor.HoldKeeper, "the keeper of the cure clocks", cures.NewKeeper(a.desk))
		a.cures = cures.NewServer(a.desk)
		out = append(out, part{name: "cures", register: a.cures.Register, actor: keeper})
	}
	if a.runs("booth") {
		_, driven := a.opt.Clock.(*clock.Driven)
		o := booth.Options{Holder: a.opt.Holder, Health: a.healthy, Running: a.even, Quiet: driven, Beat: a.opt.Beat}
		if !driven {
			o.Beat = cmp.Or(o.Beat, bus.BeatEvery)
		}
		if a.clocks != nil {
			o.Jumps = a.clocks.all
		}
		a.amongOthers(&o)
		a.sendBeats(&o)
		a.gate = booth.NewGate(a.desk, o)
		plan := booth.NewPlanner(a.desk, a.gate, a.planning(driven))
		server := booth.NewServer(a.desk, a.gate, a.people).Plan(plan)
		out = append(out, part{name: "booth", register: server.Register, actor: a.gate}, part{name: "booth plan", actor: plan})
	}
	return out
}

// planning are the options of the booth plan.
func (a *App) planning(driven bool) booth.PlanOptions {
	o := booth.PlanOptions{Off: !a.opt.Plan, Rounds: a.opt.PlanRounds, Zone: shopZone()}
	if driven {
		o.Rounds = cmp.Or(o.Rounds, DefaultPlanRounds)
		o.Debounce = cmp.Or(a.opt.PlanEvery, time.Minute)
		o.Every = max(10*time.Minute, 4*o.Debounce)
	}
	return o
}
