package bus_test

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"seamwright/services/bus"
	"seamwright/services/fault"
)

func TestSubjectsAndTopics(t *testing.T) {
	for _, c := range []struct {
		subject func() (string, error)
		want    string
		back    func(string) (any, error)
		value   any
	}{
		{bus.Probe{"demo", "bay-1", "p_2"}.Subject, "probe.demo.bay-1.p_2", func(s string) (any, error) { return bus.ParseProbe(s) }, bus.Probe{"demo", "bay-1", "p_2"}},
		{bus.Gate{"demo", "B1"}.Subject, "gate.demo.B1", func(s string) (any, error) { return bus.ParseGate(s) }, bus.Gate{"demo", "B1"}},
		{bus.Alive{"demo", "cures", "c-1"}.Subject, "alive.demo.cures.c-1", func(s string) (any, error) { return bus.ParseAlive(s) }, bus.Alive{"demo", "cures", "c-1"}},
		{bus.Heard{"demo", "bay-1-tablet"}.Subject, "heard.demo.bay-1-tablet", func(s string) (any, error) { return bus.ParseHeard(s) }, bus.Heard{"demo", "bay-1-tablet"}},
	} {
		got, err := c.subject()
		if err != nil || got != c.want {
			t.Errorf("%#v: %q, %v, want %q", c.value, got, err, c.want)
			continue
		}
		if v, err := c.back(got); err != nil || v != c.value {
			t.Errorf("%q comes back as %#v, %v", got, v, err)
		}
		topic := bus.Topic(got)
		if topic != strings.ReplaceAll(c.want, ".", "/") || bus.FromTopic(topic) != got {
			t.Errorf("topic %q, back %q", topic, bus.FromTopic(topic))
		}
	}
}

func TestNamesThatWouldMakeAnotherSubject(t *testing.T) {
	for _, id := range []string{"", "a.b", "a/b", "a b", "*", ">", "+", "#", "a*", "$SYS", "-a", "_a", "é", "a\x00", "a\n", strings.Repeat("a", 49)} {
		for name, f := range map[string]func() (string, error){
			"zone":     bus.Probe{"demo", id, "p"}.Subject,
			"probe":    bus.Probe{"demo", "z", id}.Subject,
			"booth":    bus.Gate{"demo", id}.Subject,
			"service":  bus.Alive{"demo", id, "i"}.Subject,
			"instance": bus.Alive{"demo", "s", id}.Subject,
			"terminal": bus.Heard{"demo", id}.Subject,
		} {
			if s, err := f(); fault.KindOf(err) != fault.Invalid || !strings.HasPrefix(err.Error(), name+": ") {
				t.Errorf("%s %q gives %q, %v", name, id, s, err)
			}
		}
		if s, err := (bus.Gate{id, "B1"}).Subject(); err == nil && id != "-a" && id != "_a" {
			t.Errorf("shop %q gives %q", id, s)
		}
	}
	for _, s := range []string{"", "probe", "probe.demo.z", "probe.demo.z.p.x", "probe.demo..p", "probe.Demo.z.p", "gate.demo.z.p", "probe.demo.*.p", "probe.demo.z.>", "probe.demo.z. p"} {
		if p, err := bus.ParseProbe(s); err == nil {
			t.Errorf("%q is taken for %+v", s, p)
		}
	}
	// A dot in a topic is two slashes for the server: never one of our levels.
	if s := bus.FromTopic("probe/demo/a.b/p"); s != "" {
		t.Errorf("a topic with a dot becomes %q", s)
	}
}

// Whatever is taken as names makes a subject that gives the same names back,
// and a subject that is taken is the one that its names make.
func TestSubjectsAreOneToOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := bus.Probe{rapid.StringN(0, 40, -1).Draw(t, "shop"), rapid.String().Draw(t, "zone"), rapid.StringMatching(`[A-Za-z0-9._/*>+# -]{0,50}`).Draw(t, "probe")}
		if s, err := p.Subject(); err == nil {
			if back, err := bus.ParseProbe(s); err != nil || back != p {
				t.Fatalf("%+v makes %q, which is %+v, %v", p, s, back, err)
			}
		}
		s := rapid.StringMatching(`probe\.[a-z.]{1,6}\.[A-Za-z0-9.*>/ -]{1,8}\.[A-Za-z0-9.]{1,6}`).Draw(t, "subject")
		if back, err := bus.ParseProbe(s); err == nil {
			if again, err := back.Subject(); err != nil || again != s {
				t.Fatalf("%q is %+v, which makes %q, %v", s, back, again, err)
			}
		}
	})
}
