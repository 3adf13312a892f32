package sim

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"seamwright/services/fault"
)

// Policy is what decides which load a booth sprays next, and which car a bay's
// technician works on next. Under every policy leave is asked of the same
// gate, and what holds is not sprayed: a painter passes over a load that is
// held and takes the next one on the list that is clear.
type Policy string

// The policies.
const (
	// FirstCome is the whiteboard: a car is written down when its technician
	// says that it is sealed, and the painter takes the topmost one that is
	// clear. Technicians take cars in the order in which they came in.
	FirstCome Policy = "fcfs"
	// EarliestDue takes whatever was promised earliest, at the booth and in the
	// bays.
	EarliestDue Policy = "edd"
	// Planned follows the booth service's plan: the booth its order, the bays
	// its list of what must be laid by when.
	Planned Policy = "plan"
)

// Policies are all policies, the one that is measured against the others last.
func Policies() []Policy { return []Policy{FirstCome, EarliestDue, Planned} }

// ParsePolicy reads a policy's name; empty is no policy.
func ParsePolicy(flag, name string) (Policy, error) {
	if p := Policy(name); name == "" || slices.Contains(Policies(), p) {
		return p, nil
	}
	return "", fault.Bad(flag, name, "plan, fcfs or edd")
}

// promised is when a job was promised; jobs without a promise come last.
func (j *job) promised() int64 {
	if p := j.def.GetPromised(); p != nil {
		return p.GetSeconds()
	}
	return 1 << 62
}

// before is the order of a booth's list: what is sprayed first if both are
// clear.
func (s *sim) before(x, y *load) int {
	switch s.opt.Policy {
	case FirstCome:
		return cmp.Or(byMoment(x.job.sealedAt, y.job.sealedAt), cmp.Compare(x.id, y.id))
	case Planned:
		return cmp.Or(s.sheet.rank(x, y), cmp.Compare(x.job.promised(), y.job.promised()), cmp.Compare(x.id, y.id))
	default:
		return cmp.Compare(x.job.promised(), y.job.promised())
	}
}

// byMoment puts what has not happened last.
func byMoment(a, b time.Time) int {
	switch {
	case a.IsZero() || b.IsZero():
		return cmp.Compare(btoi(a.IsZero()), btoi(b.IsZero()))
	}
	return a.Compare(b)
}

// claim is somebody's wish for a technician.
type claim struct {
	job  *job
	need time.Duration
}

// yields reports whether a technician is wanted by somebody who comes first.
func (s *sim) yields(t *tech, c *claim) bool {
	return s.opt.Policy != "" && slices.ContainsFunc(t.claims, func(o *claim) bool {
		return o != c && s.hours.in(s.now, o.need, shiftBegins, shiftEnds) && s.sooner(o, c) < 0
	})
}

// sooner is the order in which a technician takes cars.
func (s *sim) sooner(x, y *claim) int {
	if x.job == nil || y.job == nil || x.job == y.job {
		return 0
	}
	var by int
	switch s.opt.Policy {
	case EarliestDue:
		by = cmp.Compare(x.job.promised(), y.job.promised())
	case Planned:
		by = cmp.Or(s.sheet.bay(x.job, y.job), cmp.Compare(x.job.promised(), y.job.promised()))
	}
	return cmp.Or(by, strings.Compare(x.job.ro, y.job.ro))
}
