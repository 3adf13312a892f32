package app_test

import (
	"fmt"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/anypb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/floor"
	"seamwright/services/record/recordtest"
)

const (
	whenTold  = "the fact is recorded"
	staleAt   = "the last reading is older than its zone allows (3 min)"
	silentFor = "the terminal was last heard longer ago than the gate allows (5 min)"
)

// floorRows are the faults of the shop itself: what is told, or is not.
func floorRows() []row {
	return []row{
		{
			fault: "silent probe", name: floor.HoldStale, known: staleAt, words: "was last read",
			broken: func(l *lane) { l.probes.Store(false); l.pass(stale) },
			mend:   func(l *lane) { l.probes.Store(true); l.pass(25 * time.Second) },
		},
		{
			fault: "stale reading", name: floor.HoldStale, known: staleAt, words: "was last read",
			broken: func(l *lane) { l.old.Store(true); l.pass(stale) },
			mend:   func(l *lane) { l.old.Store(false); l.pass(25 * time.Second) },
		},
		{
			fault: "implausible jump", name: floor.HoldImplausible, known: "the reading is recorded", words: "jumped more than the air can",
			broken: func(l *lane) {
				l.pass(11 * time.Second) // of readings ten seconds apart none is left out
				if err := l.read(l.t.Context(), "room", 31, 0); err != nil {
					l.t.Fatal(err)
				}
			},
			mend: func(l *lane) {
				l.tell(&jobsv1.FactWithdrawn{Sequence: l.fact(&curesv1.ReadingTaken{ZoneId: "room", TempC: 31}), Why: "the probe was held in a hand"})
				l.pass(25 * time.Second)
			},
		},
		{
			fault: "late reading", name: floor.HoldNotOpen, known: whenTold, words: "roof ditch",
			broken: func(l *lane) { l.cold() },
			mend:   func(*lane) {}, barred: "it was cold in the bay: the bead must wait longer",
		},
		{
			fault: "no reading ever", name: floor.HoldNoReading, known: whenTold, words: "has never been heard",
			broken: func(l *lane) {
				l.tell(&boothv1.BoothDefined{BoothId: theBooth, ZoneId: "yard", FirstCoatMin: 20, ProcessMin: 60})
			},
			mend: func(l *lane) {
				l.tell(&boothv1.BoothDefined{BoothId: theBooth, ZoneId: "room", FirstCoatMin: 20, ProcessMin: 60})
			},
		},
		{
			fault: "zone unknown", name: floor.HoldZoneUnknown, known: whenTold, words: "is not defined",
			broken: func(l *lane) { l.withdraw(&curesv1.ZoneDefined{ZoneId: "room"}) },
			mend:   func(l *lane) { l.tell(zone("room")); l.pass(25 * time.Second) },
		},
		{
			fault: "car moved", name: floor.HoldNoReading, known: whenTold + ", that the car stands where nobody reads the air", words: "The probe of yard has never been heard.",
			broken: func(l *lane) { l.tell(&jobsv1.CarMoved{Ro: "2207", ZoneId: "yard"}) },
			mend: func(l *lane) {
				l.withdraw(&jobsv1.CarMoved{Ro: "2207", ZoneId: "yard"})
			},
		},
		{
			fault: "terminal of the bay silent", name: floor.HoldSilent, known: silentFor, words: "is not heard: it is off, asleep or out of reach",
			broken: func(l *lane) { l.hear.Store(false); l.pass(floor.DefaultHearFor) },
			mend:   func(l *lane) { l.hear.Store(true); l.pass(25 * time.Second) },
		},
		{
			fault: "bead disturbed", name: floor.HoldStop, known: whenTold, words: "on hold",
			broken: func(l *lane) { l.tell(&jobsv1.BeadDisturbed{SeamId: theSeam, How: "a sleeve"}) },
			mend:   func(l *lane) { l.withdraw(&jobsv1.BeadDisturbed{SeamId: theSeam}) },
		},
		{
			fault: "open stop raised after the permit", name: floor.HoldStop, known: whenTold, words: "on hold",
			broken: func(l *lane) { l.withdraw(&materialsv1.CartridgePurged{CartridgeId: "C1"}) },
			mend:   func(l *lane) { l.answer() },
		},
		{
			fault: "recall of the lot", name: floor.HoldStop, known: whenTold, words: "on hold",
			broken: func(l *lane) { l.tell(&materialsv1.LotRecalled{LotId: "L1", Why: "the mixing ratio was off"}) },
			mend:   func(l *lane) { l.answer() },
		},
		{
			fault: "rework after permit", name: floor.HoldNotLaid, known: whenTold, words: "not laid",
			broken: func(l *lane) { l.tell(&jobsv1.SeamReworked{SeamId: theSeam, Why: "a hair in it"}) },
			mend:   func(l *lane) { l.withdraw(&jobsv1.SeamReworked{SeamId: theSeam}) },
		},
		{
			fault: "fact withdrawn", name: floor.HoldNotLaid, known: whenTold, words: "not laid",
			broken: func(l *lane) { l.withdraw(&jobsv1.BeadLaid{SeamId: theSeam}) },
			mend:   func(*lane) {}, barred: "the bead was never laid",
		},
		{
			fault: "product corrected", name: floor.HoldClosed, known: whenTold, words: "closed",
			broken: func(l *lane) { l.closeAfter(70) },
			mend:   func(l *lane) { l.closeAfter(2880) },
		},
		{
			fault: "booth faulted", name: floor.HoldBoothFault, known: whenTold, words: "is out of use",
			broken: func(l *lane) { l.tell(&boothv1.BoothFaulted{BoothId: theBooth, What: "the fan stands still"}) },
			mend:   func(l *lane) { l.tell(&boothv1.BoothReset{BoothId: theBooth, What: "the belt was changed"}) },
		},
		{
			fault: "fault and repair at once", name: floor.HoldBoothFault, known: whenTold + ", though the next one gives the ground back", words: "-",
			broken: func(l *lane) {
				l.together(
					&boothv1.BoothFaulted{BoothId: theBooth, What: "the fan stands still"},
					&boothv1.BoothReset{BoothId: theBooth, What: "it stood off by mistake"},
				)
			},
			mend: func(*lane) {}, gone: true,
			wanted: "-", why: "whoever asks after the repair asks of a sound booth",
		},
	}
}

// together records facts of the booth so that nobody can look in between.
func (l *lane) together(bodies ...proto.Message) {
	l.t.Helper()
	d := l.app.Desk()
	_, err := d.Writer.Do(l.t.Context(), func(uint64) (out []floor.Event, _ error) {
		for _, b := range bodies {
			ev := d.Floor.Own("controller", fmt.Sprintf("together-%d", l.told.Add(1)), d.Clock.Now())
			ev.Aggregate, ev.Body = floor.BoothID(theBooth).Aggregate(), b
			out = append(out, ev)
		}
		return out, nil
	})
	if err != nil {
		l.t.Fatal(err)
	}
}

// cold tells late that the bay was cold since the bead was laid.
func (l *lane) cold() {
	l.t.Helper()
	for m := 85; m > 0; m -= 3 {
		if _, err := l.tried(&curesv1.ReadingTaken{ZoneId: "bay-1", ProbeId: "p-cold", TempC: 6}, time.Duration(m)*time.Minute); err != nil {
			l.t.Fatal(err)
		}
	}
}

// fact finds the newest fact of a body's type with the fields that it sets.
func (l *lane) fact(like proto.Message) (found uint64) {
	l.t.Helper()
	want, w, f := like.ProtoReflect(), l.app.Desk().Writer, l.app.Desk().Floor
	w.View(func(seq uint64) {
		for n := uint64(1); n <= seq; n++ {
			ev, counts, _ := f.Event(n)
			got := ev.Body.ProtoReflect()
			if !counts || got.Descriptor() != want.Descriptor() {
				continue
			}
			same := true
			want.Range(func(f protoreflect.FieldDescriptor, v protoreflect.Value) bool {
				same = got.Get(f).Equal(v)
				return same
			})
			if same {
				found = n
			}
		}
	})
	if found == 0 {
		l.t.Fatalf("no fact like %v", like)
	}
	return found
}

func (l *lane) withdraw(like proto.Message) {
	l.t.Helper()
	l.tell(&jobsv1.FactWithdrawn{Sequence: l.fact(like), Why: "told in error"})
}

// closeAfter corrects the product: its coat window closes after minutes.
func (l *lane) closeAfter(minutes float64) {
	l.t.Helper()
	p := recordtest.Levelling()
	p.Cure.Over[0].ClosesMin = minutes
	body, err := anypb.New(p)
	if err != nil {
		l.t.Fatal(err)
	}
	l.tell(&jobsv1.FactCorrected{Sequence: l.fact(&materialsv1.ProductDefined{ProductId: "sl"}), Why: "read wrongly", Body: body})
}

// answer answers every stop: the foreman has looked and takes it as it is.
func (l *lane) answer() {
	l.t.Helper()
	var open []string
	w, f := l.app.Desk().Writer, l.app.Desk().Floor
	w.View(func(uint64) {
		for _, x := range f.SeamFindings(theSeam) {
			if x.Open() {
				open = append(open, string(x.ID))
			}
		}
	})
	for _, id := range open {
		l.tell(&jobsv1.FindingDisposed{FindingId: id, Disposition: floorv1.Disposition_DISPOSITION_ACCEPT, Reason: "a test piece has cured as it should"})
	}
}
