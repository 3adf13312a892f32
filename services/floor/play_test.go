package floor_test

import (
	"testing"
	"time"

	"seamwright/services/floor"
	"seamwright/services/floor/floortest"
)

const scenarios = "../../testdata/scenarios"

// played is a shop with what happened in it, told in the words of the
// scenarios.
type played struct {
	t      *testing.T
	core   *floortest.Core
	script *floortest.Script
}

// shop opens the invented shop of the scenarios on a Monday at half past
// seven, with fresh readings of bay and booth and one job.
func shop(t *testing.T) *played {
	t.Helper()
	p := &played{t: t}
	p.script = floortest.NewScript(scenarios, func(at time.Time) (floortest.Shop, error) {
		p.core = floortest.NewCore(at)
		return p.core, nil
	})
	p.do(`open-shop 2026-03-02 07:30
include shop.inc
probe bay-1 21 rh 45 every 5m
probe booth-1 22 rh 40 every 5m
job 2207 red-hatchback colour red coats solventborne
car 2207 bay-1`)
	return p
}

// do plays lines and gives what the shop said.
func (p *played) do(lines string) string {
	p.t.Helper()
	out, err := p.script.Do(lines)
	if err != nil {
		p.t.Fatal(err)
	}
	return out
}

// floor is the floor as it stands.
func (p *played) floor() (f *floor.Floor) {
	p.core.Look(func(live *floor.Floor) { f = live })
	return f
}

// holding lists the findings of a rule that have not lapsed.
func (p *played) holding(rule string) (out []*floor.FindingState) {
	for _, s := range p.floor().AllFindings() {
		if s.Rule == rule && !s.Lapsed {
			out = append(out, s)
		}
	}
	return out
}
