package floortest

import (
	"cmp"
	"fmt"
	"slices"
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

// said is what is to be announced, with what it is ordered by.
type said struct {
	at   time.Time // when it came; zero: something is taken back
	key  string
	body proto.Message
}

// announce takes back what was told and is no longer certain, then writes an
// event for each clock whose end is certain and was not told, in the order in
// which they ended.
func (c *Core) announce() error {
	cause := c.f.Seq()
	var all []said
	for _, k := range c.running() {
		if a := k.say(c.now, cause); a.body != nil {
			all = append(all, a)
		}
	}
	slices.SortFunc(all, func(a, b said) int { return cmp.Or(a.at.Compare(b.at), cmp.Compare(a.key, b.key)) })
	for _, a := range all {
		if err := c.write("keeper", "clock", a.body); err != nil {
			return err
		}
	}
	return nil
}

// say is what is to be announced of a clock now; nothing has no body.
func (k clock) say(now time.Time, cause uint64) said {
	v := k.judge(now)
	switch {
	case k.Said == 0 && v.Reached == cure.Yes && k.Clock.Kind == cure.Ready:
		return said{v.DueCold, k.key(), k.opened(v)}
	case k.Said == 0 && v.Reached == cure.Yes:
		return said{v.DueHot, k.key(), k.closed(v)}
	case k.Said != 0 && v.Reached != cure.Yes:
		return said{time.Time{}, k.key(), &curesv1.WindowRetracted{
			Announced: k.Said, SeamId: string(k.ID.Seam), NozzleId: string(k.ID.Nozzle), Clock: k.ID.Clock, Cause: cause,
			Why: "what was heard since shows that it had not come",
		}}
	}
	return said{}
}

// key orders clocks that ended in the same moment.
func (k clock) key() string {
	thing := string(k.ID.Seam)
	if k.ID.Nozzle != "" {
		thing = "nozzle/" + string(k.ID.Nozzle)
	}
	return fmt.Sprintf("%s/%s/%s", thing, floor.Word(k.ID.Clock), k.ID.Coat)
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
