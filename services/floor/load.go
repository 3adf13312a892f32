package floor

import (
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/calc/spec"
)

// Keep is what of a load's place the planner leaves as it was told.
type Keep string

// What is kept.
const (
	KeepNothing Keep = "nothing"
	KeepBooth   Keep = "booth"
	KeepStart   Keep = "start" // and the booth
)

// keepOf: a start that somebody gives is kept unless they say otherwise, and
// without a start there is none to keep.
func keepOf(e *boothv1.LoadPlanned) Keep {
	switch {
	case e.GetKeep() == boothv1.Keep_KEEP_NOTHING:
		return KeepNothing
	case e.GetStart() != nil && e.GetKeep() != boothv1.Keep_KEEP_BOOTH:
		return KeepStart
	case e.GetKeep() != boothv1.Keep_KEEP_UNSPECIFIED:
		return KeepBooth
	}
	return KeepNothing
}

// Load is a load as its facts make it.
type Load struct {
	ID        LoadID
	Booth     BoothID
	RO        RO
	Colour    string
	Coat      spec.Coat // first coat sprayed; empty: the job's first
	Seams     []SeamID
	Start     time.Time // planned; zero: not
	Told      BoothID   // the booth that it was told for, wherever it was moved
	Keep      Keep      // what of booth and start is not the planner's
	Moved     bool      // booth and start are where the planner put it
	Reason    string    // why it stands there, in words
	Also      []BoothID // further booths that may take it
	Sprayed   time.Time // zero: not yet
	Permit    string    // the permit it was sprayed under; empty: none
	Finished  bool
	firstCoat time.Duration // 0: the booth's
	process   time.Duration // 0: the booth's

	misfits map[uint64]string
}

func (fl *Floor) foldLoad(b *book, id LoadID) *Load {
	facts := b.of(id.key())
	if len(facts) == 0 {
		return nil
	}
	l := &Load{ID: id, misfits: map[uint64]string{}}
	for _, f := range facts {
		switch e := f.body.(type) {
		case *boothv1.LoadPlanned:
			l.planned(e)
		case *boothv1.SprayStarted:
			if !l.Sprayed.IsZero() {
				l.misfits[f.seq] = "the load was sprayed before"
				continue
			}
			l.Sprayed = f.at
			if p := fl.permitAt(BoothID(e.GetBoothId()), id, f.at); p != nil {
				l.Permit = p.ID
			}
		case *boothv1.LoadFinished:
			l.Finished = !l.Sprayed.IsZero()
			if !l.Finished {
				l.misfits[f.seq] = "the load was not sprayed"
			}
		}
	}
	return l
}

// planned takes in what was told of a load, or where the planner has moved it
// since.
func (l *Load) planned(e *boothv1.LoadPlanned) {
	if e.GetMoved() {
		l.move(e)
		return
	}
	l.plan(e)
}

// move takes in what the planner did with a load that stands. It never moves
// what is kept, nor what is being sprayed.
func (l *Load) move(e *boothv1.LoadPlanned) {
	if l.RO == "" || l.Keep == KeepStart || !l.Sprayed.IsZero() {
		return
	}
	if l.Keep != KeepBooth {
		l.Booth = BoothID(e.GetBoothId())
	}
	l.Start, l.Moved, l.Reason = startOf(e), true, e.GetReason()
}

func startOf(e *boothv1.LoadPlanned) time.Time {
	if e.GetStart() == nil {
		return time.Time{}
	}
	return e.GetStart().AsTime()
}

func (l *Load) plan(e *boothv1.LoadPlanned) {
	l.Told = BoothID(e.GetBoothId())
	l.Booth, l.RO, l.Colour = BoothID(e.GetBoothId()), RO(e.GetRo()), e.GetColour()
	l.firstCoat, l.process, l.Coat = minutes(e.GetFirstCoatMin()), minutes(e.GetProcessMin()), spec.Coat(enumWord(e.GetCoat()))
	l.Start, l.Keep, l.Moved, l.Reason = startOf(e), keepOf(e), false, e.GetReason()
	l.Also = nil
	for _, b := range e.GetAlsoBoothIds() {
		l.Also = append(l.Also, BoothID(b))
	}
	l.Seams = nil
	for _, s := range e.GetSeamIds() {
		l.Seams = append(l.Seams, SeamID(s))
	}
}

// ToldLoad is a load as it was told last, wherever the planner has moved it
// since; nil: it never was. The caller must not change it.
func (fl *Floor) ToldLoad(id LoadID) *boothv1.LoadPlanned { return plannedLoad(fl.book, id) }

// FirstCoat is how long the load's first coat takes.
func (fl *Floor) FirstCoat(l *Load) time.Duration {
	if b := fl.booths[l.Booth]; l.firstCoat == 0 && b != nil {
		return b.FirstCoat
	}
	return l.firstCoat
}

// Process is how long the load occupies its booth.
func (fl *Floor) Process(l *Load) time.Duration {
	if b := fl.booths[l.Booth]; l.process == 0 && b != nil {
		return b.Process
	}
	return l.process
}
