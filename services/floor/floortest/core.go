package floortest

import (
	"fmt"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// Core is the floor with the least around it: events are numbered and
// applied, windows announced when they are due, permits given and revoked.
type Core struct {
	// Quiet lets nobody but the teller speak: nothing is announced, and no
	// permit is revoked.
	Quiet bool

	f      *floor.Floor
	now    time.Time
	heard  map[string]time.Time
	issued int
	log    []floor.Event // as they were applied
}

// NewCore opens an empty shop.
func NewCore(at time.Time) *Core {
	return &Core{f: floor.New(), now: at, heard: map[string]time.Time{}}
}

// Now is the present moment.
func (c *Core) Now() time.Time { return c.now }

// Look shows the floor.
func (c *Core) Look(fn func(*floor.Floor)) { fn(c.f) }

// Events are all events so far, as a journal would hold them.
func (c *Core) Events() []floor.Event { return c.log }

// Hear notes a sign of life.
func (c *Core) Hear(terminal string) error {
	c.heard[terminal] = c.now
	return nil
}

// Tell records a fact, once a command id.
func (c *Core) Tell(cmd floor.Command) (*floorv1.Receipt, error) {
	if seq, ok := c.f.Taken(cmd.Stamp.GetCommandId()); ok {
		ev, _, _ := c.f.Event(seq)
		return &floorv1.Receipt{Sequence: seq, Repeated: true, Occurred: timestamppb.New(ev.Occurred)}, nil
	}
	ev, err := c.f.Decide(cmd, c.now)
	if err != nil {
		return nil, err
	}
	if err := c.apply(ev); err != nil {
		return nil, err
	}
	r := &floorv1.Receipt{Sequence: ev.Seq, Occurred: timestamppb.New(ev.Occurred)}
	if a, ok := ev.Body.(interface {
		GetAssessment() *floorv1.Assessment
	}); ok {
		r.Findings = a.GetAssessment().GetFindings()
	}
	return r, c.rest()
}

// apply numbers an event and folds it. What the journal keeps is a copy.
func (c *Core) apply(ev floor.Event) error {
	ev.Seq = c.f.Seq() + 1
	kept := ev
	kept.Body = proto.Clone(ev.Body)
	c.log = append(c.log, kept)
	return c.f.Apply(ev)
}

// write records an event of the shop's own.
func (c *Core) write(who, aggregate string, body proto.Message) error {
	return c.apply(floor.Event{Aggregate: aggregate, Body: body, Header: floor.Header{
		Actor: who, Role: floor.Machine, AgeKind: floor.AgeLive,
		CommandID: fmt.Sprintf("%s-%08d", who, c.f.Seq()+1),
		Received:  c.now, Occurred: c.now, Earliest: c.now, Latest: c.now, Rules: floor.RulesVersion,
	}})
}

// rest announces what is due and revokes what lost its ground.
func (c *Core) rest() error {
	if c.Quiet {
		return nil
	}
	if err := c.announce(); err != nil {
		return err
	}
	return c.watch()
}

// Advance lets time pass, stopping where something falls due.
func (c *Core) Advance(to time.Time) error {
	if to.Before(c.now) {
		return fault.Bad("at", to.Format("15:04"), "must not lie before "+c.now.Format("15:04"))
	}
	if c.Quiet {
		c.now = to
		return nil
	}
	for c.now.Before(to) {
		c.now = c.nextStop(to)
		if err := c.rest(); err != nil {
			return err
		}
	}
	return nil
}

// nextStop is the next moment at which a clock may fall due or a permit run
// out.
func (c *Core) nextStop(to time.Time) time.Time {
	next := to
	sooner := func(t time.Time) {
		if up := t.Add(time.Millisecond - 1).Truncate(time.Millisecond); up.After(c.now) && up.Before(next) {
			next = up
		}
	}
	for _, r := range c.running() {
		seen := r.Path.AsOf(c.now)
		for _, side := range []cure.Side{cure.Cold, cure.Hot} { // along the growing cone, as the answers go
			if at, ok := seen.Passed(r.Clock.Law, side, r.Clock.From, r.Clock.Target(side), to); ok {
				sooner(at)
			}
		}
	}
	for _, b := range c.f.Booths() {
		if p := c.f.Permit(b); p != nil {
			sooner(p.StartBy.Add(time.Millisecond))
			sooner(c.now.Add(time.Second * 30))
		}
	}
	return next
}

// live is what the gate knows beside the journal.
func (c *Core) live(untouched bool, holding string) floor.Live {
	return floor.Live{Heard: c.heard, Untouched: untouched, Holding: holding}
}

// Gate rules at the present moment.
func (c *Core) Gate(load floor.LoadID, untouched bool) (floor.Ruling, error) {
	return c.f.Gate(load, c.now, c.live(untouched, "")), nil
}

// permitFor is how long a permit's grounds may be relied on.
const permitFor = 10 * time.Minute

// Permit gives leave when the gate is clear.
func (c *Core) Permit(s *floorv1.Stamp, load floor.LoadID, untouched bool) (floor.Ruling, error) {
	r := c.f.Gate(load, c.now, c.live(untouched, ""))
	if !r.Clear() {
		return r, nil
	}
	p := &boothv1.PermitIssued{LoadId: string(load), BoothId: string(r.Booth), StartBy: timestamppb.New(c.now.Add(permitFor))}
	if untouched {
		p.UntouchedBy = s.GetActor()
	}
	return r, c.issue(p)
}

// Override gives leave over the reasons to hold.
func (c *Core) Override(s *floorv1.Stamp, load floor.LoadID, reason string, minutes float64) (floor.Ruling, error) {
	if s.GetRole() != floorv1.Role_ROLE_FOREMAN {
		return floor.Ruling{}, fault.New(fault.Denied, "not-a-foreman",
			fmt.Sprintf("%s is a %s; only a foreman overrides the gate", s.GetActor(), floor.Word(s.GetRole())), "ask a foreman")
	}
	r := c.f.Gate(load, c.now, c.live(false, ""))
	p := &boothv1.PermitIssued{
		LoadId: string(load), BoothId: string(r.Booth), Override: true, OverrideBy: s.GetActor(), OverrideReason: reason,
		StartBy: timestamppb.New(c.now.Add(time.Duration(minutes * float64(time.Minute)))),
	}
	for _, why := range r.Reasons {
		p.OverReasons = append(p.OverReasons, why.Name)
	}
	return r, c.issue(p)
}

func (c *Core) issue(p *boothv1.PermitIssued) error {
	c.issued++
	p.PermitId, p.Holder, p.Seen = fmt.Sprintf("P%d", c.issued), "core", c.f.Seq()
	if err := c.write("booth", "booth."+p.GetBoothId(), p); err != nil {
		return err
	}
	return c.rest()
}

// Return gives a permit back.
func (c *Core) Return(s *floorv1.Stamp, load floor.LoadID) error {
	for _, b := range c.f.Booths() {
		if p := c.f.Permit(b); p != nil && p.Load == load {
			return c.revoke(p, []string{"returned"}, s.GetActor()+" gave it back")
		}
	}
	return fault.Missing("permit", string(load), "ask for one first")
}

func (c *Core) revoke(p *floor.Permit, names []string, why string) error {
	return c.write("booth", "booth."+string(p.Booth), &boothv1.PermitRevoked{
		PermitId: p.ID, BoothId: string(p.Booth), LoadId: string(p.Load), Reasons: names, Why: why,
	})
}

// watch revokes a permit whose grounds fell away. An override stands on a
// foreman's word, not on grounds: it only runs out.
func (c *Core) watch() error {
	for _, b := range c.f.Booths() {
		p := c.f.Permit(b)
		if p == nil {
			continue
		}
		if c.now.After(p.StartBy) {
			if err := c.revoke(p, []string{"permit-expired"}, "spraying had not begun by "+p.StartBy.Format("15:04")); err != nil {
				return err
			}
			continue
		}
		if p.Override {
			continue
		}
		r := c.f.Gate(p.Load, c.now, c.live(p.Untouched, p.ID))
		if r.Clear() {
			continue
		}
		var names, texts []string
		for _, why := range r.Reasons {
			names, texts = append(names, why.Name), append(texts, why.Text)
		}
		if err := c.revoke(p, names, strings.Join(texts, "; ")); err != nil {
			return err
		}
	}
	return nil
}

// Heard are the newest signs of life by terminal.
func (c *Core) Heard() map[string]time.Time { return c.heard }
