package floor

import (
	"maps"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/calc/spec"
)

// JobState is whether a job is on the floor.
type JobState string

// The states of a job.
const (
	JobOpen      JobState = "open"
	JobDelivered JobState = "delivered"
	JobCancelled JobState = "cancelled"
)

// Job is a job as its facts make it.
type Job struct {
	RO           RO
	Vehicle, VIN string
	PaintColour  string
	Coats        []spec.Coat
	Promised     time.Time // zero: not promised
	Weight       float64
	AfterBooth   time.Duration
	State        JobState
	Opened       time.Time
	Ended        time.Time // delivered or cancelled; zero: not

	misfits map[uint64]string
}

// Ended is when a job was delivered or cancelled; false while it is neither,
// or unknown.
func (fl *Floor) Ended(ro RO) (time.Time, bool) {
	j := fl.jobs[ro]
	if j == nil || j.State != JobDelivered && j.State != JobCancelled {
		return time.Time{}, false
	}
	return j.Ended, true
}

func (fl *Floor) foldJob(b *book, ro RO) *Job {
	facts := b.of(ro.key())
	if len(facts) == 0 {
		return nil
	}
	j := &Job{RO: ro, misfits: map[uint64]string{}}
	for _, f := range facts {
		switch e := f.body.(type) {
		case *jobsv1.JobOpened:
			j.open(e, f)
		case *jobsv1.JobDelivered:
			j.end(JobDelivered, f)
		case *jobsv1.JobCancelled:
			j.end(JobCancelled, f)
		}
	}
	return j
}

func (j *Job) open(e *jobsv1.JobOpened, f *fact) {
	if j.State == "" {
		j.State, j.Opened = JobOpen, f.at
	}
	j.Vehicle, j.VIN, j.PaintColour = e.GetVehicle(), e.GetVin(), e.GetPaintColour()
	j.Weight, j.AfterBooth = e.GetWeight(), minutes(e.GetAfterBoothMin())
	if j.Weight == 0 {
		j.Weight = 1
	}
	if e.GetPromised() != nil {
		j.Promised = e.GetPromised().AsTime()
	}
	j.Coats = nil
	for _, c := range e.GetCoats() {
		j.Coats = append(j.Coats, spec.Coat(enumWord(c)))
	}
}

func (j *Job) end(s JobState, f *fact) {
	if j.State != JobOpen {
		j.misfits[f.seq] = "the job is " + string(j.State)
		return
	}
	j.State, j.Ended = s, f.at
}

// firstCoat is the coat that goes first over the sealer; empty when the job
// does not say.
func (fl *Floor) firstCoat(b *book, ro RO) spec.Coat {
	e, _ := newest[*jobsv1.JobOpened](b.of(ro.key()))
	if len(e.GetCoats()) == 0 {
		return ""
	}
	return spec.Coat(enumWord(e.GetCoats()[0]))
}

// Interval is a stretch of time.
type Interval struct{ From, To time.Time }

// Booth is a booth as its facts make it.
type Booth struct {
	ID        BoothID
	Zone      ZoneID
	Hours     []Interval // empty: round the clock
	FirstCoat time.Duration
	Process   time.Duration
	Phase     boothv1.Phase
	PhaseFrom time.Time
	PhaseEnds time.Time // expected; zero: not told
	Fault     string    // empty: in use
	Loaded    LoadID    // sprayed and not yet finished
	Colour    string    // in the gun: the last load's, or what it was set up to since
	Next      string    // colour that the gun is being set up to; empty: none was told
	Setups    map[[2]string]time.Duration
	Coats     []spec.Coat // for which a load may be moved into it

	misfits map[uint64]string
}

func foldBooth(b *book, id BoothID) *Booth {
	facts := b.of(id.key())
	if len(facts) == 0 {
		return nil
	}
	t := &Booth{ID: id, Phase: boothv1.Phase_PHASE_IDLE, Setups: map[[2]string]time.Duration{}, misfits: map[uint64]string{}}
	for _, f := range facts {
		t.fact(b, f)
	}
	return t
}

// next is the booth after one more fact, which happened after all others. A
// booth's facts are never done with, so that folding all of them for each new
// one would cost more from day to day.
func (t *Booth) next(b *book, f *fact) *Booth {
	n := *t
	n.misfits = maps.Clone(t.misfits)
	n.fact(b, f)
	return &n
}

func (t *Booth) fact(b *book, f *fact) {
	switch e := f.body.(type) {
	case *boothv1.BoothDefined:
		t.define(e)
	case *boothv1.BoothPhaseChanged:
		t.turn(e, f.at)
	case *boothv1.BoothFaulted:
		t.Fault = e.GetWhat()
	case *boothv1.BoothReset:
		t.Fault = ""
	case *boothv1.SprayStarted:
		t.Loaded, t.Phase, t.PhaseFrom, t.PhaseEnds = LoadID(e.GetLoadId()), boothv1.Phase_PHASE_SPRAYING, f.at, time.Time{}
		if t.Next = ""; plannedLoad(b, t.Loaded) != nil {
			t.Colour = plannedLoad(b, t.Loaded).GetColour()
		}
	case *boothv1.LoadFinished:
		t.finish(LoadID(e.GetLoadId()), f)
	}
}

// turn is a booth in another phase. A setup that was told of goes on where it
// is told of again; one that had its time is done, and one that was broken off
// leaves what was in the gun.
func (t *Booth) turn(e *boothv1.BoothPhaseChanged, at time.Time) {
	if t.Next != "" && e.GetColour() == t.Next && e.GetExpected().AsDuration() <= 0 {
		return
	}
	if gun, ready := t.Gun(); !at.Before(ready) {
		t.Colour = gun
	}
	t.Next = e.GetColour()
	t.Phase, t.PhaseFrom, t.PhaseEnds = e.GetPhase(), at, time.Time{}
	if d := e.GetExpected().AsDuration(); d > 0 {
		t.PhaseEnds = at.Add(d)
	}
}

// Gun is the colour that is in the gun, or that it is being set up to, and
// when it is in it: the zero time when it is already.
func (t *Booth) Gun() (colour string, ready time.Time) {
	switch {
	case t.Next == "":
		return t.Colour, time.Time{}
	case !t.PhaseEnds.IsZero():
		return t.Next, t.PhaseEnds
	}
	return t.Next, t.PhaseFrom.Add(t.Setups[[2]string{t.Colour, t.Next}])
}

// Ends is when what the booth does is expected to have ended; zero: not told.
func (t *Booth) Ends() time.Time {
	if _, ready := t.Gun(); !ready.IsZero() {
		return ready
	}
	return t.PhaseEnds
}

func (t *Booth) define(e *boothv1.BoothDefined) {
	t.Zone, t.Hours = ZoneID(e.GetZoneId()), nil
	t.FirstCoat, t.Process = minutes(e.GetFirstCoatMin()), minutes(e.GetProcessMin())
	for _, i := range e.GetOpen() {
		t.Hours = append(t.Hours, Interval{i.GetFrom().AsTime(), i.GetTo().AsTime()})
	}
	t.Coats = nil
	for _, c := range e.GetCoats() {
		t.Coats = append(t.Coats, spec.Coat(enumWord(c)))
	}
	t.Setups = map[[2]string]time.Duration{}
	for _, s := range e.GetSetups() {
		t.Setups[[2]string{s.GetFrom(), s.GetTo()}] = minutes(s.GetMinutes())
	}
}

func (t *Booth) finish(l LoadID, f *fact) {
	if t.Loaded != l {
		t.misfits[f.seq] = "the booth does not hold that load"
		return
	}
	t.Loaded, t.Phase, t.PhaseFrom, t.PhaseEnds = "", boothv1.Phase_PHASE_IDLE, f.at, time.Time{}
}

// OpenAt reports whether the booth may be used from a moment until another.
func (t *Booth) OpenAt(from, to time.Time) bool {
	if len(t.Hours) == 0 {
		return true
	}
	for _, h := range t.Hours {
		if !from.Before(h.From) && !to.After(h.To) {
			return true
		}
	}
	return false
}
