package floortest

import (
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/floor"
)

// clock is a running clock of a seam or a nozzle.
type clock struct{ floor.Running }

func (k clock) judge(at time.Time) cure.Verdict { return cure.Judge(k.Path, k.Clock, at) }

// running lists every clock of the shop, seams first.
func (c *Core) running() []clock {
	var out []clock
	for _, s := range c.f.Seams() {
		for _, r := range c.f.SeamClocks(s) {
			out = append(out, clock{r})
		}
	}
	for _, id := range c.f.Cartridges() {
		if r, ok := c.f.NozzleClock(id, c.now); ok {
			out = append(out, clock{r})
		}
	}
	return out
}

// announce writes an event for each clock whose end is certain and was not
// told, and takes back what was told and is no longer certain.
func (c *Core) announce() error {
	cause := c.f.Seq()
	for _, k := range c.running() {
		v := k.judge(c.now)
		var body proto.Message
		switch {
		case k.Said == 0 && v.Reached == cure.Yes && k.Clock.Kind == cure.Ready:
			body = k.opened(v)
		case k.Said == 0 && v.Reached == cure.Yes:
			body = k.closed(v)
		case k.Said != 0 && v.Reached != cure.Yes:
			body = &curesv1.WindowRetracted{
				Announced: k.Said, SeamId: string(k.ID.Seam), NozzleId: string(k.ID.Nozzle), Clock: k.ID.Clock, Cause: cause,
				Why: "what was heard since shows that it had not come",
			}
		default:
			continue
		}
		if err := c.write("keeper", "clock", body); err != nil {
			return err
		}
	}
	return nil
}

func (k clock) opened(v cure.Verdict) *curesv1.WindowOpened {
	return &curesv1.WindowOpened{
		SeamId: string(k.ID.Seam), Clock: k.ID.Clock, Coat: floor.Enum[floorv1.Coat](string(k.ID.Coat)),
		Began: k.ID.Began, Due: timestamppb.New(v.DueCold),
	}
}

func (k clock) closed(v cure.Verdict) *curesv1.WindowClosed {
	return &curesv1.WindowClosed{
		SeamId: string(k.ID.Seam), NozzleId: string(k.ID.Nozzle), Clock: k.ID.Clock,
		Coat: floor.Enum[floorv1.Coat](string(k.ID.Coat)), Began: k.ID.Began, Due: timestamppb.New(v.DueHot),
	}
}
