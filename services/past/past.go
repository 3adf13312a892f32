// Package past makes up the journal of a shop that has been at work for a
// while: events of a realistic mix, decided by the real rules, the same for
// the same seed. Benchmarks and damage tests start a shop upon it; nothing of
// it stands in a real shop.
//
// A week has two or three cars opened on each working day, surveyed, sealed,
// sprayed and delivered three days later. Four zones are read round the clock,
// which makes about two thirds of all events; clocks that end are announced,
// and permits are issued and used. Some facts are told late, withdrawn or
// corrected. Common practice, no source.
package past

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/floor"
	"seamwright/services/journal"
)

// Begin is the moment at which every made-up past begins: a Monday.
var Begin = time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)

// readEvery is how often a zone's air is told.
const readEvery = 12 * time.Minute

// zones are the shop's rooms; the last one is the booth's.
var zones = []string{"bay-1", "bay-2", "bay-3", "booth-room"}

const (
	bays  = 3
	booth = "booth-1"
)

// Shop is a shop whose past is being made up. It is used by one goroutine.
type Shop struct {
	f       *floor.Floor
	dice    *rand.Rand
	now     time.Time
	agenda  []task // in order of time
	told    int
	jobs    int
	carts   [bays]cart
	opened  int // cartridges
	nozzles int
	live    []floor.RO // whose clocks are watched
	look    map[floor.SeamID]time.Time
	free    time.Time // when the booth has its next gap
	out     []floor.Event
}

// cart is the cartridge that stands in a bay.
type cart struct {
	id   string
	left float64 // ml
}

// task is something that happens at a moment.
type task struct {
	at time.Time
	n  int // order in which it was planned
	do func() error
}

// New makes a shop without a past.
func New(seed uint64) *Shop {
	s := &Shop{f: floor.New(), dice: rand.New(rand.NewPCG(seed, 1)), now: Begin, look: map[floor.SeamID]time.Time{}}
	s.plan(Begin, s.furnish)
	for i := range zones {
		s.plan(Begin.Add(time.Minute+time.Duration(i)*3*time.Minute), func() error { return s.read(i) })
	}
	s.plan(Begin.Add(90*time.Minute), s.day)
	return s
}

// Floor is the floor as the shop has come to make it up, which may be some
// events ahead of those that Next gave. It must only be asked.
func (s *Shop) Floor() *floor.Floor { return s.f }

// Now is the shop's present moment, not before its newest event.
func (s *Shop) Now() time.Time { return s.now }

// Next makes up the next event.
func (s *Shop) Next() (floor.Event, error) {
	for len(s.out) == 0 {
		t := s.agenda[0]
		s.agenda = s.agenda[1:]
		if t.at.After(s.now) {
			s.now = t.at
		}
		if err := s.announce(); err != nil {
			return floor.Event{}, err
		}
		if err := t.do(); err != nil {
			return floor.Event{}, fmt.Errorf("%s: %w", s.now.Format(time.DateTime), err)
		}
	}
	ev := s.out[0]
	s.out = s.out[1:]
	return ev, nil
}

// Fill appends the first n events of a shop's past to an empty journal.
func Fill(ctx context.Context, j journal.Journal, seed uint64, n int) (*Shop, error) {
	s := New(seed)
	var recs []journal.Record
	for last := uint64(0); last < uint64(n); {
		for len(recs) < min(journal.MaxBatch, n-int(last)) {
			ev, err := s.Next()
			if err != nil {
				return nil, err
			}
			r, err := journal.Encode(ev)
			if err != nil {
				return nil, err
			}
			recs = append(recs, r)
		}
		var err error
		if last, err = j.Append(ctx, last, recs...); err != nil {
			return nil, err
		}
		recs = recs[:0]
	}
	return s, nil
}

// plan puts a task on the agenda.
func (s *Shop) plan(at time.Time, do func() error) {
	s.told++
	t := task{at, s.told, do}
	n, _ := slices.BinarySearchFunc(s.agenda, t, func(a, b task) int { return cmp.Or(a.at.Compare(b.at), cmp.Compare(a.n, b.n)) })
	s.agenda = slices.Insert(s.agenda, n, t)
}

// who tells a fact, at which terminal.
type who struct {
	name     string
	role     floorv1.Role
	terminal string
}

var (
	probe   = who{"probe", floorv1.Role_ROLE_MACHINE, "probe"}
	foreman = who{"Ansa Vellacorn", floorv1.Role_ROLE_FOREMAN, "desk"}
	painter = who{"Sel Thrushgate", floorv1.Role_ROLE_PAINTER, "booth-screen"}
)

// technician works in a bay, at its tablet.
func technician(bay int) who {
	names := [bays]string{"Tamsin Orrable", "Corin Hathersedge", "Bryn Ollerquist"}
	return who{names[bay], floorv1.Role_ROLE_TECHNICIAN, zones[bay] + "-tablet"}
}

// tell records facts that happen now.
func (s *Shop) tell(by who, bodies ...proto.Message) error { return s.tellOld(by, 0, bodies...) }

// tellOld records facts whose age the terminal measured; 0: as they happen.
func (s *Shop) tellOld(by who, age time.Duration, bodies ...proto.Message) error {
	for _, b := range bodies {
		a := &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE}
		if age > 0 {
			a = &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_MEASURED, Length: durationpb.New(age)}
		}
		s.told++
		ev, err := s.f.Decide(floor.Command{Body: b, Stamp: &floorv1.Stamp{
			CommandId: fmt.Sprintf("%08x-%s-%06d", s.dice.Uint32(), by.terminal, s.told), Actor: by.name, Role: by.role, Terminal: by.terminal, Age: a,
		}}, s.now)
		if err != nil {
			return err
		}
		if err := s.put(ev); err != nil {
			return err
		}
	}
	return nil
}

// put folds an event that was decided and hands it out.
func (s *Shop) put(ev floor.Event) error {
	ev.Seq = s.f.Seq() + 1
	s.out = append(s.out, ev)
	return s.f.Apply(ev)
}

// read tells a zone's air, warmer in the afternoon.
func (s *Shop) read(zone int) error {
	s.plan(s.now.Add(readEvery), func() error { return s.read(zone) })
	hour := s.now.Sub(Begin).Hours()
	c := 20 + 2*math.Sin((hour-8)*math.Pi/12) + s.dice.Float64()*0.6
	r := &curesv1.ReadingTaken{ZoneId: zones[zone], ProbeId: "probe-" + zones[zone], TempC: math.Round(c*10) / 10}
	if s.dice.IntN(4) == 0 {
		r.RhPercent = proto.Float64(math.Round(45 + 10*s.dice.Float64()))
	}
	if s.dice.IntN(200) == 0 { // the probe's link was down for a while
		return s.tellOld(probe, time.Duration(60+s.dice.IntN(400))*time.Second, r)
	}
	return s.tell(probe, r)
}
