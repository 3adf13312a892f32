package floor

import (
	"cmp"
	"slices"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

// Operation is what was done to a seam, as an invoice names it.
type Operation string

// The operations of a seam.
const (
	OpSurvey    Operation = "survey"
	OpUndercoat Operation = "undercoat"
	OpPrep      Operation = "prep"
	OpLay       Operation = "lay"
	OpDeair     Operation = "de-air"
	OpTool      Operation = "tool"
	OpScuff     Operation = "scuff"
	OpHeat      Operation = "heat"
	OpWax       Operation = "wax"
	OpWaterTest Operation = "water-test"
	OpInspect   Operation = "inspect"
	OpRework    Operation = "rework"
)

// Operations lists them in the order of a seam's life.
func Operations() []Operation {
	return []Operation{OpSurvey, OpUndercoat, OpPrep, OpLay, OpDeair, OpTool, OpHeat, OpScuff, OpWax, OpWaterTest, OpInspect, OpRework}
}

// TimeBasis is where a working time comes from.
type TimeBasis string

// The bases of a working time.
const (
	TimeTold    TimeBasis = "told"
	TimeSince   TimeBasis = "since" // since the same person's fact before
	TimeUnknown TimeBasis = "unknown"
)

// SinceAtMost is the longest pause between two facts of one person that is
// taken for work on the second of them (common practice, no source).
const SinceAtMost = 20 * time.Minute

// Work is one operation on one seam.
type Work struct {
	Seam      SeamID
	Operation Operation
	Seq       uint64
	At        time.Time // when it ended
	By        string
	Took      time.Duration // this seam's part of it
	Basis     TimeBasis
	Shared    int       // seams that it was done to in one go
	Removed   time.Time // when the bead was taken off after it; zero: not
}

// Work lists what was done to the seams of a job, by seam and in order. The
// time of work on several seams at once is split between them in equal parts.
func (fl *Floor) Work(ro RO) []Work {
	var facts []*fact
	var out []Work
	for _, id := range fl.SeamsOf(ro) {
		for _, f := range fl.book.of(id.key()) {
			op, lasted, seams := operation(f)
			if op == "" {
				continue
			}
			w := Work{Seam: id, Operation: op, Seq: f.seq, At: f.at, By: f.head.Actor, Basis: TimeUnknown, Shared: len(seams), Removed: fl.removedAt(id, f)}
			if lasted != nil {
				w.Basis, w.Took = TimeTold, part(lasted.AsDuration(), id, seams)
			}
			out, facts = append(out, w), append(facts, f)
		}
	}
	before := fl.pauses(facts)
	for i, f := range facts {
		w := &out[i]
		if gap, ok := before[f]; ok && w.Basis == TimeUnknown {
			_, _, seams := operation(f)
			w.Basis, w.Took = TimeSince, part(gap, w.Seam, seams)
		}
	}
	return out
}

// operation is what a fact of a seam is on an invoice, how long it is told to
// have lasted, and the seams that share it; empty for what is none.
func operation(f *fact) (op Operation, lasted *durationpb.Duration, seams []string) {
	switch e := f.body.(type) {
	case *jobsv1.SeamSurveyed:
		return OpSurvey, nil, nil
	case *jobsv1.CoatApplied:
		if e.GetOver() != floorv1.Coat_COAT_UNSPECIFIED {
			return "", nil, nil // the painter's
		}
		return OpUndercoat, e.Lasted, e.GetSeamIds()
	case *jobsv1.SurfacePrepped:
		return OpPrep, nil, nil
	case *jobsv1.BeadLaid:
		return OpLay, e.Lasted, nil
	case *jobsv1.RunLaid:
		return OpLay, e.GetPasses()[f.lay.pass].Lasted, nil
	case *jobsv1.BeadDeaired:
		return OpDeair, nil, nil
	case *jobsv1.BeadTooled:
		return OpTool, nil, nil
	case *jobsv1.SeamScuffed:
		return OpScuff, nil, nil
	case *jobsv1.HeatApplied:
		return OpHeat, e.Lasted, e.GetSeamIds()
	case *jobsv1.WaxApplied:
		return OpWax, nil, nil
	case *jobsv1.WaterTested:
		return OpWaterTest, nil, nil
	case *jobsv1.SeamInspected:
		return OpInspect, nil, nil
	case *jobsv1.SeamReworked:
		return OpRework, nil, nil
	}
	return "", nil, nil
}

// part is a seam's part of a time that several share: the parts add up.
func part(d time.Duration, id SeamID, seams []string) time.Duration {
	n := time.Duration(len(seams))
	i := time.Duration(slices.Index(seams, string(id)))
	if n < 2 || i < 0 {
		return d
	}
	return portionOf(d, i+1, n) - portionOf(d, i, n)
}

func portionOf(d, i, n time.Duration) time.Duration { return d/n*i + d%n*i/n }

// momentOf is when somebody was done with something.
type momentOf struct {
	at   time.Time
	seq  uint64
	pass int
}

func (m momentOf) compare(n momentOf) int {
	return cmp.Or(m.at.Compare(n.at), cmp.Compare(m.seq, n.seq), cmp.Compare(m.pass, n.pass))
}

// pauses gives, for facts that people told, how long it was since the same
// person's fact before, where that is not longer than [SinceAtMost]. All facts
// of the shop count: who opened a cartridge meanwhile did not work on a seam.
func (fl *Floor) pauses(facts []*fact) map[*fact]time.Duration {
	did := map[string][]momentOf{}
	for _, f := range facts {
		if f.head.Role != Machine {
			did[f.head.Actor] = nil
		}
	}
	for i := range fl.log {
		e := &fl.log[i]
		if _, asked := did[e.ev.Actor]; !asked || e.withdrawn || e.ev.Role == Machine {
			continue
		}
		did[e.ev.Actor] = append(did[e.ev.Actor], momentsOf(e)...)
	}
	for _, ms := range did {
		slices.SortFunc(ms, momentOf.compare)
	}
	out := map[*fact]time.Duration{}
	for _, f := range facts {
		ms := did[f.head.Actor]
		n, _ := slices.BinarySearchFunc(ms, momentOf{f.at, f.seq, f.pass()}, momentOf.compare)
		if f.head.Role == Machine || n == 0 {
			continue
		}
		if gap := f.at.Sub(ms[n-1].at); gap <= SinceAtMost {
			out[f] = gap
		}
	}
	return out
}

// momentsOf are the moments of an event: of a run the end of each pass.
func momentsOf(e *entry) []momentOf {
	run, ok := e.ev.Body.(*jobsv1.RunLaid)
	if !ok {
		return []momentOf{{at: e.ev.Occurred, seq: e.ev.Seq}}
	}
	var out []momentOf
	for i, p := range run.GetPasses() {
		out = append(out, momentOf{e.ev.Occurred.Add(-p.GetEndedBefore().AsDuration()), e.ev.Seq, i})
	}
	return out
}
