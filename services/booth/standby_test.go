package booth_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/booth"
	"seamwright/services/bus"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/record"
	"seamwright/services/record/recordtest"
)

// tick is one step of the simulated bus: signs arrive a tick after they were
// sent.
const tick = 100 * time.Millisecond

// crew is several booth services on one bus, in simulated time.
type crew struct {
	t   *rapid.T
	now time.Time
	all []*member
	n   int
}

type member struct {
	instance string
	started  time.Time
	stand    *booth.Stand
	table    *bus.Peers
	cut      bool      // from the bus
	turned   time.Time // when it was cut or came back
	next     time.Time
	state    booth.Standing
}

func (c *crew) start() {
	c.n++
	m := &member{
		instance: fmt.Sprint("gate-", c.n), started: c.now, table: bus.NewPeers(), next: c.now,
	}
	m.stand = booth.NewStand(m.instance, m.started, false)
	c.all = append(c.all, m)
}

// pass lets a time go by and looks each tick at who may give leave.
func (c *crew) pass(d time.Duration) {
	for end := c.now.Add(d); c.now.Before(end); {
		var sent []bus.Life
		for _, m := range c.all {
			if !c.now.Before(m.next) {
				m.next = c.now.Add(bus.LifeEvery)
				if !m.cut {
					sent = append(sent, bus.Life{Service: "booth", Instance: m.instance, Started: m.started, Now: c.now, Active: m.state.Active})
				}
			}
		}
		c.now = c.now.Add(tick)
		for _, m := range c.all {
			for _, l := range sent {
				if !m.cut {
					m.table.Hear(l, c.now, c.now)
				}
			}
			m.look(c.now)
		}
		if free := c.free(); len(free) > 1 {
			c.t.Fatalf("at %s both %v may give leave", c.now.Format("15:04:05.0"), free)
		}
	}
}

// turn cuts a service from the bus, or lets it back. A cut lasts longer than
// the time between two signs: one that swallows a single sign of another and
// none of one's own is for the fence in the journal.
func (m *member) turn(now time.Time) {
	if now.Sub(m.turned) > bus.LifeEvery {
		m.cut, m.turned = !m.cut, now
	}
}

func (m *member) look(now time.Time) {
	var others []booth.Other
	var echo time.Time
	for _, p := range m.table.Lately("booth", now) {
		if p.Instance == m.instance {
			echo = p.Now
			continue
		}
		others = append(others, booth.Other{Instance: p.Instance, Started: p.Started, Active: p.Active, Heard: p.Heard})
	}
	m.state = m.stand.Look(now, others, echo)
}

// free lists the services that may give leave now.
func (c *crew) free() (out []string) {
	for _, m := range c.all {
		if m.state.Active && m.state.Hold == nil {
			out = append(out, m.instance)
		}
	}
	return out
}

// Whatever services start, die and lose the bus: no two of them may give
// leave at one moment, and soon after it is quiet one may.
func TestOneBoothServiceSpeaks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := &crew{t: t, now: recordtest.Monday}
		for range rapid.IntRange(1, 3).Draw(t, "services") {
			c.start()
			c.pass(time.Duration(rapid.IntRange(0, 20).Draw(t, "apart")) * tick)
		}
		for range rapid.IntRange(0, 12).Draw(t, "upsets") {
			c.pass(time.Duration(rapid.IntRange(0, 80).Draw(t, "ticks")) * tick)
			if len(c.all) == 0 {
				c.start()
				continue
			}
			i := rapid.IntRange(0, len(c.all)-1).Draw(t, "who")
			switch rapid.IntRange(0, 3).Draw(t, "what") {
			case 0:
				c.all = slices.Delete(c.all, i, i+1)
			case 1, 2:
				c.all[i].turn(c.now)
			case 3:
				if len(c.all) < 4 {
					c.start()
				}
			}
		}
		if len(c.all) == 0 {
			c.start()
		}
		for _, m := range c.all {
			m.cut = false
		}
		c.pass(8 * time.Second)
		if free := c.free(); len(free) != 1 {
			t.Fatalf("when all had been quiet for 8 s, %v may give leave", free)
		}
	})
}

func TestTheOtherTakesOverWithinSeconds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := &crew{t: t, now: recordtest.Monday}
		c.start()
		c.pass(time.Second)
		c.start()
		c.pass(5 * time.Second)
		if got := c.free(); !slices.Equal(got, []string{"gate-1"}) {
			t.Fatalf("%v speak, want the first", got)
		}
		c.pass(time.Duration(rapid.IntRange(0, 12).Draw(t, "ticks")) * tick)
		c.all = c.all[1:]
		c.pass(2 * time.Second)
		if got := c.free(); len(got) != 0 {
			t.Fatalf("%v speak 2 s after the first fell silent", got)
		}
		c.pass(2200 * time.Millisecond)
		if got := c.free(); !slices.Equal(got, []string{"gate-2"}) {
			t.Fatalf("%v speak 4.2 s after the first fell silent", got)
		}
	})
}

// Two that find each other active: the later one steps back at once, the
// earlier one holds until it has.
func TestTwoActiveServicesHoldBoth(t *testing.T) {
	now := recordtest.Monday
	early, late := booth.Other{Instance: "gate-a", Started: now.Add(-time.Hour), Active: true, Heard: now}, booth.Other{Instance: "gate-b", Started: now.Add(-time.Minute), Active: true, Heard: now}
	a, b := booth.NewStand(early.Instance, early.Started, true), booth.NewStand(late.Instance, late.Started, true)
	sa, sb := a.Look(now, []booth.Other{late}, now), b.Look(now, []booth.Other{early}, now)
	if !sa.Active || !fault.Is(sa.Hold, floor.HoldOtherHolder) {
		t.Errorf("the earlier one: %+v", sa)
	}
	if sb.Active || !fault.Is(sb.Hold, floor.HoldOtherHolder) {
		t.Errorf("the later one: %+v", sb)
	}
	late.Active = false
	if s := a.Look(now, []booth.Other{late}, now); !s.Active || s.Hold != nil {
		t.Errorf("the earlier one when the later stepped back: %+v", s)
	}
	if s := a.Look(now.Add(2600*time.Millisecond), nil, now); s.Active || !fault.Is(s.Hold, floor.HoldBusSilent) {
		t.Errorf("one that does not hear itself: %+v", s)
	}
}

// pair is a house with a second booth service on its journal.
type pair struct {
	*house
	first, second booth.Standing // what each is among the two
	gate2         *booth.Gate
	two           boothv1.BoothServiceClient
	follow        func()
}

func newPair(t *testing.T) *pair {
	t.Helper()
	h := ready(t)
	p := &pair{house: h, first: booth.Standing{Active: true}, second: standsBy("gate-a")}
	h.gate = booth.NewGate(h.Desk, booth.Options{Holder: "gate-a", Standing: func() booth.Standing { return p.first }})
	d := h.other(h.Journal)
	p.gate2 = booth.NewGate(d, booth.Options{Holder: "gate-b", Standing: func() booth.Standing { return p.second }})
	p.two = h.serve(d, p.gate2)
	p.BoothServiceClient = h.serve(h.Desk, h.gate)
	p.follow = func() {
		t.Helper()
		for _, d := range []*record.Desk{h.Desk, d} {
			if err := d.Writer.Step(t.Context()); err != nil {
				t.Fatal(err)
			}
		}
	}
	h.step()
	h.hear()
	return p
}

func standsBy(other string) booth.Standing {
	return booth.Standing{Hold: fault.New(fault.Unavailable, floor.HoldOtherHolder, "booth service "+other+" speaks for the gates, this one stands by", "ask there")}
}

func (p *pair) step2() {
	p.t.Helper()
	p.follow()
	if _, err := p.gate2.Step(p.ctx(), p.Time.Now()); err != nil {
		p.t.Fatal(err)
	}
	p.follow()
}

func TestAServiceThatStandsByHoldsByName(t *testing.T) {
	p := newPair(t)
	p.permit()
	p.step2()
	g, err := p.two.GetGate(t.Context(), &boothv1.GetGateRequest{BoothId: "booth-1"})
	if err != nil || g.GetGate().GetSign() != boothv1.Sign_SIGN_HOLD || !slices.Contains(names(g.GetGate().GetReasons()), floor.HoldOtherHolder) {
		t.Errorf("shown: %v, %v", g, err)
	}
	if g.GetGate().GetBeat() != 0 {
		t.Errorf("it beats: %d", g.GetGate().GetBeat())
	}
	if got := p.state().GetSign(); got != boothv1.Sign_SIGN_CLEAR {
		t.Errorf("the one that speaks shows %s", got)
	}
	if got := p.permits(); !slices.Equal(got, []string{"issued"}) {
		t.Errorf("permits: %v", got)
	}
	r, err := p.two.RequestPermit(t.Context(), &boothv1.RequestPermitRequest{Stamp: p.painter(), BoothId: "booth-1", LoadId: "2207-A", Untouched: true})
	if err != nil || r.GetPermit() != nil || !slices.Contains(names(r.GetReasons()), floor.HoldOtherHolder) {
		t.Errorf("asked for a permit: %v, %v", r, err)
	}
	_, err = p.two.Override(t.Context(), &boothv1.OverrideRequest{
		Stamp: p.foreman(), BoothId: "booth-1", LoadId: "2207-A", Pin: "2468", Reason: "the car must go", Minutes: 5,
	})
	if !fault.Is(err, "beyond-override") {
		t.Errorf("asked for an override: %v", err)
	}
}

func TestWhoTakesOverTakesBackFirst(t *testing.T) {
	p := newPair(t)
	p.permit()
	p.second = booth.Standing{Active: true} // the first one has died
	p.step2()
	if got := p.permits(); !slices.Equal(got, []string{"issued", "revoked " + booth.EndedNewHolder}) {
		t.Fatalf("permits: %v", got)
	}
	r, err := p.two.RequestPermit(t.Context(), &boothv1.RequestPermitRequest{Stamp: p.painter(), BoothId: "booth-1", LoadId: "2207-A", Untouched: true})
	if err != nil || r.GetPermit() == nil {
		t.Fatalf("the new one gives none: %v, %v", r, err)
	}
	p.first = standsBy("gate-b") // it was not dead
	p.follow()
	p.step()
	p.step2()
	if got := p.permits(); len(got) != 3 || got[2] != "issued" {
		t.Errorf("the old one took back what is not its own: %v", got)
	}
	p.first, p.second = booth.Standing{Active: true}, standsBy("gate-a") // and it was the earlier one
	p.step2()
	if got := p.permits(); !slices.Equal(got[3:], []string{"revoked " + floor.HoldOtherHolder}) {
		t.Errorf("who steps back leaves its permit: %v", got)
	}
	if got := p.state().GetSign(); got != boothv1.Sign_SIGN_HOLD {
		t.Errorf("sign %s before anybody asked again", got)
	}
	p.step()
	p.permit()
}

// A terminal that one service heard is told to the others, once it stands in
// a zone.
func TestWhatOneServiceHeardIsSpread(t *testing.T) {
	h := ready(t)
	var told []string
	g := booth.NewGate(h.Desk, booth.Options{Holder: "gate-a", Spread: func(terminal string) { told = append(told, terminal) }})
	b := h.serve(h.Desk, g)
	for _, terminal := range []string{"bay-1-tablet", "nobodys-tablet"} {
		if _, err := b.Hear(t.Context(), &boothv1.HearRequest{Terminal: terminal}); err != nil {
			t.Fatal(err)
		}
	}
	if !slices.Equal(told, []string{"bay-1-tablet"}) {
		t.Errorf("spread: %v", told)
	}
}

// Another process's clock may be a little ahead of this one's: leave stands as
// long as both moments give it. Further apart it holds by name.
func TestClocksThatDifferALittleHoldNothing(t *testing.T) {
	for ahead, want := range map[time.Duration]boothv1.Sign{
		booth.Skew: boothv1.Sign_SIGN_CLEAR, booth.Skew + time.Millisecond: boothv1.Sign_SIGN_HOLD,
	} {
		h := ready(t)
		h.permit()
		h.toldBy(ahead)
		h.step()
		if got := h.state(); got.GetSign() != want {
			t.Errorf("a clock %s ahead: %s %v, want %s", ahead, got.GetSign(), names(got.GetReasons()), want)
		}
		if held := slices.Contains(names(h.state().GetReasons()), floor.HoldClock); held != (want == boothv1.Sign_SIGN_HOLD) {
			t.Errorf("a clock %s ahead: reasons %v", ahead, names(h.state().GetReasons()))
		}
	}
}

// Of two moments the one counts at which less is sure: a window that opens
// by a clock that is ahead is not open yet.
func TestAClockThatIsAheadOpensNothingEarly(t *testing.T) {
	h := open(t)
	h.furnish()
	h.lay()
	h.wait(50 * time.Minute)
	opens := func(at time.Time) (ok bool) {
		h.Writer.View(func(uint64) { ok = h.Floor.Gate("2207-A", at, floor.Live{Untouched: true}).Clear() })
		return ok
	}
	for n := 1; !opens(h.Time.Now().Add(booth.Skew)); n++ {
		if h.pass(time.Second); n%300 == 0 {
			h.read(21)
		}
	}
	h.hear()
	h.toldBy(booth.Skew)
	if r := h.ask(); r.GetPermit() != nil || !slices.Equal(names(r.GetReasons()), []string{floor.HoldNotOpen}) {
		t.Errorf("moments before the window opens: %v", r)
	}
	h.pass(3 * time.Second)
	h.permit()
}

// toldBy lets another process, whose clock is ahead, tell a fact that the
// gate does not lean on.
func (h *house) toldBy(ahead time.Duration) {
	h.t.Helper()
	other, fast := h.other(h.Journal), recordtest.New().Time
	if err := fast.Advance(h.Time.Now().Sub(fast.Now()) + ahead); err != nil {
		h.t.Fatal(err)
	}
	other.Clock = fast
	fact := floor.Command{Stamp: h.painter(), Body: &jobsv1.PhotoAttached{SeamId: seam, Sha256: zeros, MediaType: "image/jpeg"}}
	if _, err := other.Record(h.ctx(), fact, func(f *floor.Floor, c floor.Command, at time.Time) (floor.Event, error) { return f.Decide(c, at) }); err != nil {
		h.t.Fatal(err)
	}
	if err := h.Writer.Step(h.ctx()); err != nil {
		h.t.Fatal(err)
	}
}
