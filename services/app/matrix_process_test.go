package app_test

import (
	"context"
	"fmt"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/app"
	"seamwright/services/booth"
	"seamwright/services/floor"
	"seamwright/services/journal"
	"seamwright/services/journal/memory"
)

const (
	nextLook   = "the next look at it (each second at the most) comes back"
	graceOver  = "the floor has been behind for its grace (1 s) at a look (each half second)"
	newProcess = booth.EndedNewHolder // a stopped floor records nothing: the next start takes the permit back
)

// panicky is an error that cannot be asked for its text.
type panicky struct{}

func (panicky) Error() string { panic("the test has broken it") }

// processRows are the faults of the program and its journal.
func processRows() []row {
	return []row{
		{
			fault: "keeper stopped", name: floor.HoldKeeper, known: "a step of it has failed", words: "The cure clocks are not kept.",
			broken: func(l *lane) { l.app.Inspect().Halt(floor.HoldKeeper, true); l.note() },
			mend:   func(l *lane) { l.app.Inspect().Halt(floor.HoldKeeper, false); l.pass(3 * time.Second) },
		},
		{
			fault: "follower behind", name: floor.HoldFollowerBehind, known: graceOver, words: "The floor is behind the journal.",
			broken: func(l *lane) {
				l.bad.set(func(f *faulty) { f.stalled = make(chan struct{}) })
				l.elsewhere("photo")
				l.pass(time.Second)
			},
			mend: func(l *lane) { l.bad.sound(); l.pass(2 * time.Second) },
		},
		{
			fault: "consumer dead", name: floor.HoldFollowerEnded, known: "the follower ends", words: "The floor does not follow the journal any more.",
			broken: func(l *lane) { l.bad.kill() }, cause: newProcess,
		},
		{
			fault: "journal unwritable", name: floor.HoldUnwritable, known: "an append has failed", words: "Nothing can be written to the journal.",
			broken: func(l *lane) { l.bad.set(func(f *faulty) { f.refuse = errBroken }); l.unheard() },
			mend:   func(l *lane) { l.bad.sound(); l.pass(6 * time.Second) },
		},
		{
			fault: "appends hang", name: floor.HoldUnwritable, known: "an append has been under way for its time (1.5 s)", words: "Nothing can be written to the journal.",
			broken: func(l *lane) {
				l.bad.set(func(f *faulty) { f.hang = true })
				go func() { _, _ = l.photo(l.t.Context()) }()
				l.pass(1500 * time.Millisecond)
			},
			mend: func(l *lane) { l.bad.sound(); l.pass(20 * time.Second) },
		},
		{
			fault: "journal silent", name: floor.HoldJournalSilent, known: "a question has come to its time (1.5 s) without an answer", words: "The journal does not answer.",
			broken: func(l *lane) { l.bad.set(func(f *faulty) { f.silent = true }); l.pass(1500 * time.Millisecond) },
			mend:   func(l *lane) { l.bad.sound(); l.pass(3 * time.Second) },
		},
		{
			fault: "sequence hole", name: floor.HoldGap, known: nextLook, words: "A record is missing from the journal.",
			broken: func(l *lane) { l.memory().Lose(l.last() - 3) },
			mend:   func(*lane) {}, barred: "a journal with a hole does not open: it is restored from a copy",
		},
		{
			fault: "changed byte", name: floor.HoldRecordChanged, known: nextLook, words: "A record of the journal was changed.",
			broken: func(l *lane) { l.memory().Change(7, func(r *journal.Record) { r.Payload[2] ^= 1 }) },
			mend: func(l *lane) {
				l.memory().Change(7, func(r *journal.Record) { r.Payload[2] ^= 1 })
				l.again()
			},
		},
		{
			fault: "lost tail", name: floor.HoldRecordsLost, known: nextLook, words: "The last records of the journal are lost.",
			broken: func(l *lane) { l.probes.Store(false); l.memory().Cut(l.last() - 1) },
			mend:   func(*lane) {}, barred: "a journal that lost its tail does not open: it is restored from a copy",
			cause: "-",
		},
		{
			fault: "unknown event type", name: floor.HoldUnknownEvent, known: "the record is read", words: "something that this program does not know",
			broken: func(l *lane) { l.probes.Store(false); l.elsewhere("seamwright.jobs.v9.BeadSung") },
			mend: func(l *lane) {
				l.memory().Cut(l.last() - 1)
				l.probes.Store(true)
				l.again()
			},
			cause: newProcess,
		},
		{
			fault: "unreadable record", name: floor.HoldBadRecord, known: "the record is read", words: "A record of the journal cannot be read.",
			broken: func(l *lane) { l.probes.Store(false); l.elsewhere("garbled") },
			mend: func(l *lane) {
				l.memory().Cut(l.last() - 1)
				l.probes.Store(true)
				l.again()
			},
			cause: newProcess,
		},
		{
			fault: "panic in evaluation", name: floor.HoldPanic, known: "the gate is evaluated", words: "The gate could not be worked out.",
			broken: func(l *lane) { l.app.Inspect().Trouble(panicky{}) },
			mend:   func(l *lane) { l.app.Inspect().Trouble(nil) },
		},
		{
			fault: "two booth services at once", name: floor.HoldOtherHolder, known: "the other one starts: it takes back what was given before it", words: "-",
			broken: func(l *lane) { l.second() }, gone: true, cause: booth.EndedNewHolder,
			mend:   func(l *lane) {},
			wanted: "-", why: "both may be asked: TestTwoBoothServicesGiveOneLeave",
		},
		{
			fault: "override expired", name: booth.EndedExpired, known: "its minutes are over", words: "-", gone: true,
			prepare: func(l *lane) { l.hear.Store(false); l.pass(floor.DefaultHearFor) },
			leave:   func(l *lane) *boothv1.Permit { return l.override(5) },
			broken:  func(l *lane) { l.pass(5*time.Minute - 2*time.Second) },
			mend:    func(l *lane) { l.hear.Store(true); l.pass(25 * time.Second) },
			wanted:  "-", why: "nobody has an override to expire",
		},
		{
			fault: "monitor hangs", name: floor.HoldJournalSilent, known: "a look has not come back for its time (2 s)", words: "The journal does not answer.",
			broken: func(l *lane) { l.bad.set(func(f *faulty) { f.deaf = make(chan struct{}) }); l.pass(2 * time.Second) },
			mend:   func(l *lane) { l.bad.sound(); l.pass(3 * time.Second) },
		},
	}
}

func (l *lane) memory() *memory.Journal {
	l.t.Helper()
	m, ok := l.store.(*memory.Journal)
	if !ok {
		l.t.Fatal("this shop's journal is not in memory")
	}
	return m
}

// last is the journal's last number.
func (l *lane) last() uint64 {
	l.t.Helper()
	n, err := l.store.Last(l.t.Context())
	if err != nil {
		l.t.Fatal(err)
	}
	return n
}

// note tells a fact that changes nothing.
func (l *lane) note() {
	l.t.Helper()
	l.tell(&jobsv1.PhotoAttached{SeamId: theSeam, Sha256: fmt.Sprintf("%064d", l.told.Load()), MediaType: "image/jpeg"})
}

// unheard tells a fact that the journal does not take.
func (l *lane) unheard() {
	l.t.Helper()
	ctx, cancel := context.WithTimeout(l.t.Context(), 2*time.Second)
	defer cancel()
	if _, err := l.photo(ctx); err == nil {
		l.t.Fatal("a fact was recorded in a journal that takes none")
	}
}

func (l *lane) photo(ctx context.Context) (*jobsv1.RecordResponse, error) {
	return l.jobs.Record(ctx, &jobsv1.RecordRequest{Stamp: l.stamp(floorv1.Role_ROLE_FOREMAN), Fact: &jobsv1.RecordRequest_PhotoAttached{
		PhotoAttached: &jobsv1.PhotoAttached{SeamId: theSeam, Sha256: fmt.Sprintf("%064d", 1), MediaType: "image/jpeg"},
	}})
}

// elsewhere lets another process append a record: a picture, or one whose
// type is given.
func (l *lane) elsewhere(what string) {
	l.t.Helper()
	var r journal.Record
	l.app.Desk().Writer.View(func(seq uint64) {
		ev := l.app.Desk().Floor.Own("another", fmt.Sprintf("another.%d", seq), l.clock.Now())
		ev.Aggregate, ev.Body = "seam.2207.rd-l", &jobsv1.PhotoAttached{SeamId: theSeam, Sha256: fmt.Sprintf("%064d", 9), MediaType: "image/jpeg"}
		var err error
		if r, err = journal.Encode(ev); err != nil {
			l.t.Fatal(err)
		}
	})
	switch what {
	case "photo":
	case "garbled":
		r.Payload = []byte{0xff}
	default:
		r.Type = what
	}
	if _, err := l.store.Append(l.t.Context(), l.last(), r); err != nil {
		l.t.Fatal(err)
	}
}

// second starts another program of the same shop, which ends with the first.
func (l *lane) second() *app.App {
	l.t.Helper()
	o := l.opt
	o.Journal, o.Clock, o.Log, o.Holder = l.bad, l.clock, quiet(), "gate-b"
	b, err := app.New(o)
	if err != nil {
		l.t.Fatal(err)
	}
	if err := b.Start(l.t.Context()); err != nil {
		l.t.Fatal(err)
	}
	l.ends = append(l.ends, func() {
		if err := b.Stop(); err != nil {
			l.t.Error(err)
		}
	})
	return b
}

// override gives leave over open reasons, for minutes.
func (l *lane) override(minutes float64) *boothv1.Permit {
	l.t.Helper()
	r, err := l.booth.Override(l.t.Context(), &boothv1.OverrideRequest{
		Stamp: l.stamp(floorv1.Role_ROLE_FOREMAN), BoothId: theBooth, LoadId: theLoad, Pin: foremansPIN, Reason: "I watched the car all the time", Minutes: minutes,
	})
	if err != nil {
		l.t.Fatal(err)
	}
	return r.GetPermit()
}
