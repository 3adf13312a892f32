package bus_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"seamwright/services/bus"
	"seamwright/services/fault"
)

func life(service, instance string) bus.Life {
	return bus.Life{
		Service: service, Instance: instance, Address: "10.0.0.4:7410", Sequence: 12, Active: true,
		Started: monday.Add(-time.Hour), Now: monday,
	}
}

func TestLifeComesBack(t *testing.T) {
	for _, l := range []bus.Life{life("jobs", "a1"), {Service: "board", Instance: "x", Started: monday, Now: monday, Stopping: true, Proof: true}} {
		b, err := l.Encode()
		if err != nil {
			t.Fatal(err)
		}
		back, err := bus.DecodeLife(b)
		if err != nil {
			t.Fatalf("%s: %v", b, err)
		}
		if d := cmp.Diff(l, back); d != "" {
			t.Errorf("(-sent +read)\n%s", d)
		}
	}
	newer := `{"service":"jobs","instance":"a","started":"2026-03-02T10:00:00Z","now":"2026-03-02T10:00:00Z","later":1}`
	if l, err := bus.DecodeLife([]byte(newer)); err != nil || l.Service != "jobs" {
		t.Errorf("a sign of a newer program: %v, %v", l, err)
	}
}

func TestSignsOfLifeThatAreNone(t *testing.T) {
	for name, text := range map[string]string{
		"nothing": "", "null": "null", "no names": `{"started":"2026-03-02T10:00:00Z","now":"2026-03-02T10:00:00Z"}`,
		"a name with a dot": `{"service":"jobs.x","instance":"a","started":"2026-03-02T10:00:00Z","now":"2026-03-02T10:00:00Z"}`,
		"no moments":        `{"service":"jobs","instance":"a"}`,
		"no port":           `{"service":"jobs","instance":"a","address":"10.0.0.4","started":"2026-03-02T10:00:00Z","now":"2026-03-02T10:00:00Z"}`,
		"endless":           `{"service":"` + strings.Repeat("a", bus.MaxLife) + `"}`,
	} {
		if _, err := bus.DecodeLife([]byte(text)); fault.KindOf(err) != fault.Invalid {
			t.Errorf("%s: %v, want an invalid fault", name, err)
		}
	}
}

// of lists who is alive.
func of(p *bus.Peers, service string, at time.Time) string {
	var out []string
	peers, _ := p.Of(service, at)
	for _, x := range peers {
		out = append(out, x.Service+"/"+x.Instance)
	}
	return strings.Join(out, " ")
}

func TestSilentServicesAreGone(t *testing.T) {
	p := bus.NewPeers()
	p.Hear(life("jobs", "a"), monday, monday)
	p.Hear(life("jobs", "b"), monday.Add(2*time.Second), monday.Add(2*time.Second))
	for after, want := range map[time.Duration]string{
		2 * time.Second: "jobs/a jobs/b", bus.Silence: "jobs/a jobs/b",
	} {
		if got := of(p, "jobs", monday.Add(after)); got != want {
			t.Errorf("after %s: %q, want %q", after, got, want)
		}
	}
	if got := of(p, "jobs", monday.Add(bus.Silence+1)); got != "jobs/b" {
		t.Errorf("right after the silence: %q", got)
	}
	last := life("jobs", "b")
	last.Stopping = true
	p.Hear(last, monday.Add(bus.Silence+2), monday.Add(bus.Silence+2))
	if got := of(p, "", monday.Add(bus.Silence+2)); got != "" {
		t.Errorf("a service that said that it goes: %q", got)
	}
}

func TestTheActiveServiceComesFirst(t *testing.T) {
	p := bus.NewPeers()
	for i, active := range []bool{false, true, false} {
		l := life("booth", fmt.Sprint("gate-", i))
		l.Active, l.Started = active, monday.Add(-time.Duration(i)*time.Minute)
		p.Hear(l, monday, monday)
	}
	p.Hear(life("jobs", "a"), monday, monday)
	if got, want := of(p, "booth", monday), "booth/gate-1 booth/gate-2 booth/gate-0"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

func TestOnlyNewsWakes(t *testing.T) {
	p := bus.NewPeers()
	woken := func(what string, want bool, do func()) {
		t.Helper()
		_, changed := p.Of("", monday)
		do()
		select {
		case <-changed:
			if !want {
				t.Errorf("%s woke the listeners", what)
			}
		default:
			if want {
				t.Errorf("%s woke nobody", what)
			}
		}
	}
	l := life("booth", "a")
	woken("a new service", true, func() { p.Hear(l, monday, monday) })
	l.Sequence, l.Now = 13, monday.Add(time.Second)
	woken("one more sign", false, func() { p.Hear(l, monday.Add(time.Second), monday.Add(time.Second)) })
	l.Active = false
	woken("stepping back", true, func() { p.Hear(l, monday.Add(time.Second), monday.Add(time.Second)) })
	woken("silence", true, func() { p.Of("", monday.Add(time.Minute)) })
}

// A sign that was long under way must not pass for a clock that is behind.
func TestAClockIsJudgedByItsQuickestSign(t *testing.T) {
	p := bus.NewPeers()
	hear := func(ahead, under time.Duration) {
		for i := range 5 {
			l := life("cures", "a")
			at := monday.Add(time.Duration(i) * time.Second)
			l.Now = at.Add(ahead)
			if i != 3 {
				at = at.Add(under)
			}
			p.Hear(l, at, at)
		}
	}
	ahead := func() time.Duration {
		all, _ := p.Of("cures", monday.Add(4*time.Second))
		return all[0].Ahead
	}
	hear(0, 900*time.Millisecond)
	if got := ahead(); got != 0 {
		t.Errorf("a right clock over a slow bus: ahead %s", got)
	}
	hear(-5*time.Second, 900*time.Millisecond)
	if got := ahead(); got != -5*time.Second {
		t.Errorf("a clock five seconds behind: ahead %s", got)
	}
	hear(time.Hour, 0)
	if got := ahead(); got != time.Hour {
		t.Errorf("a clock an hour ahead: %s", got)
	}
}
