package probes

import (
	"sync/atomic"
	"time"

	"seamwright/services/bus"
)

// logEvery is how often at most the log is told of one probe's bad messages.
const logEvery = time.Minute

// maxProbes is how many probes are counted one by one. Only a probe that the
// bus knows gets here, or another process of the shop that speaks for many.
const maxProbes = 10_000

// count is what became of the messages of one probe.
type count struct {
	taken atomic.Int64

	// Under the intake's lock.
	refused int64
	untold  int64 // refused since the log was told
	last    error
	told    time.Time     // when the log was told; zero: never
	spent   time.Duration // of what a probe may send
	heard   time.Time     // when it was heard last
}

// Count is what became of a probe's messages since the start.
type Count struct{ Taken, Refused int64 }

// Counts are those of all probes that were heard, by "zone/probe". What came
// on no probe's subject stands under "".
func (i *Intake) Counts() map[string]Count {
	i.mu.Lock()
	defer i.mu.Unlock()
	out := map[string]Count{}
	for n, c := range i.counts {
		out[n] = Count{c.taken.Load(), c.refused}
	}
	if n := i.spare.taken.Load(); n+i.spare.refused > 0 {
		out[""] = Count{n, i.spare.refused}
	}
	return out
}

func (i *Intake) countOf(p bus.Probe) *count {
	i.mu.Lock()
	defer i.mu.Unlock()
	c := i.counts[name(p)]
	if c == nil && len(i.counts) >= maxProbes {
		return &i.spare
	}
	if c == nil {
		c = &count{}
		i.counts[name(p)] = c
	}
	return c
}

// allow reports whether a probe may send one more. The machine's clock counts:
// what it guards is the machine.
func (i *Intake) allow(c *count) bool {
	i.mu.Lock()
	defer i.mu.Unlock()
	now := time.Now()
	c.spent = max(0, c.spent-max(0, now.Sub(c.heard)))
	c.heard = now
	if c.spent > (burst-1)*everyOne {
		return false
	}
	c.spent += everyOne
	return true
}

// refuse counts a message that could not be taken. The first is told at once,
// what follows within the minute with the minute's end.
func (i *Intake) refuse(c *count, who string, err error) {
	i.mu.Lock()
	defer i.mu.Unlock()
	if c == nil {
		c = &i.spare
	}
	c.refused++
	c.untold++
	c.last = err
	i.tell(c, who)
}

// tellAll tells what was counted since.
func (i *Intake) tellAll() {
	i.mu.Lock()
	defer i.mu.Unlock()
	for who, c := range i.counts {
		i.tell(c, who)
	}
	i.tell(&i.spare, "others")
}

// tell tells the log of one probe, if it is time. The clock here is the
// machine's: how fast a log fills is no matter of the shop's time.
func (i *Intake) tell(c *count, who string) {
	now := time.Now()
	if c.untold == 0 || !c.told.IsZero() && now.Sub(c.told) < logEvery {
		return
	}
	i.opt.Log.Warn("messages of a probe were refused", "probe", who, "count", c.untold, "newest", c.last)
	c.untold, c.told = 0, now
}
