package app

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	"seamwright/services/clock"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/health"
	"seamwright/services/record"
)

// clockWatch notices that the shop's clock was set while the process ran: the
// time of day against a running clock that nobody sets.
//
// After a jump of more than health.JumpAtLeast, forward or back, the gate
// holds until the clock has run evenly for health.SteadyFor, and until every
// zone whose last reading still counts as fresh has been read again: nobody
// knows how old the readings from before it are. A bead that cured across the
// jump is judged, as long as the program runs, by what it has surely waited
// and may have waited at the most ([floor.Jump]).
type clockWatch struct {
	clock   clock.Clock
	running func() time.Duration
	desk    *record.Desk

	mu    sync.Mutex
	jumps []floor.Jump // all that there were, the newest last

	even health.Even
	open bool // a jump has not been lived down
	by   time.Duration
	at   time.Time // by the clock, after the jump
	seq  uint64    // events up to here were told before it
	read map[floor.ZoneID]bool
	last error // of the last look
}

func (c *clockWatch) check() health.Check {
	return health.Check{
		Name: floor.HoldClockJumped, What: "the clock", Hint: "start the program again",
		Every: health.Often, Within: health.Patience, Look: c.look,
	}
}

func (c *clockWatch) look(context.Context) error {
	running, now := c.running(), c.clock.Now()
	if c.running()-running > health.JumpAtLeast/4 {
		return c.last // the process stood still between the two clocks: they were not read at one moment
	}
	c.last = c.judge(running, now)
	return c.last
}

func (c *clockWatch) judge(running time.Duration, now time.Time) error {
	if jumped, by := c.even.See(running, now); jumped {
		c.note(floor.Jump{Was: now.Add(-by), By: by})
		c.open, c.by, c.at, c.seq, c.read = true, by, now, c.desk.Writer.Seq(), map[floor.ZoneID]bool{}
	}
	if !c.open {
		return nil
	}
	if _, doubt := c.even.Doubt(running); doubt {
		return c.told(fmt.Sprintf("it has not run evenly for %s since", health.SteadyFor))
	}
	if zones := c.unread(now); len(zones) > 0 {
		return c.told("the air of " + strings.Join(zones, ", ") + " was not read since")
	}
	c.open = false
	return nil
}

// maxJumps is how many jumps are kept apart; of a clock that is set more often
// the oldest that go one way are added up, as if all had been at the last of
// them: more beads are in doubt then, none less.
const maxJumps = 50

// note keeps a jump for as long as the program runs: a bead that cured across
// it is judged by what it has surely waited.
func (c *clockWatch) note(j floor.Jump) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.jumps = append(slices.Clone(c.jumps), j)
	if len(c.jumps) <= maxJumps {
		return
	}
	into := 1 // of three, two go one way
	if (c.jumps[0].By > 0) != (c.jumps[1].By > 0) {
		into = 2
		if (c.jumps[0].By > 0) != (c.jumps[2].By > 0) {
			c.jumps[0], c.jumps[1] = c.jumps[1], c.jumps[0]
		}
	}
	c.jumps[into].By += c.jumps[0].By
	if c.jumps[0].Was.After(c.jumps[into].Was) {
		c.jumps[into].Was = c.jumps[0].Was
	}
	c.jumps = c.jumps[1:]
}

// all are the jumps that were seen.
func (c *clockWatch) all() []floor.Jump {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.jumps
}

func (c *clockWatch) told(why string) error {
	way, by := "forward", c.by
	if by < 0 {
		way, by = "back", -by
	}
	return fault.New(fault.Unavailable, floor.HoldClockJumped,
		fmt.Sprintf("the clock was set %s by %s, to %s UTC, and %s", way, by.Round(time.Second), c.at.UTC().Format("15:04:05"), why),
		"make sure that it is right; beads laid before may be counted too old or too young: ask the foreman")
}

// unread lists the zones that the gate would believe a reading of from before
// the jump.
func (c *clockWatch) unread(now time.Time) (out []string) {
	c.desk.Writer.View(func(seq uint64) {
		f := c.desk.Floor
		for ; c.seq < seq; c.seq++ {
			ev, _, _ := f.Event(c.seq + 1)
			if r, ok := ev.Body.(*curesv1.ReadingTaken); ok {
				c.read[floor.ZoneID(r.GetZoneId())] = true
			}
		}
		for _, z := range f.Zones() {
			if a, ok := f.Air(z, now); ok && a.Read && a.Fresh && !c.read[z] {
				out = append(out, string(z))
			}
		}
	})
	return out
}
