package bus

import (
	"fmt"
	"regexp"
	"strings"

	"seamwright/services/fault"
)

// First tokens of the subjects.
const (
	probes = "probe"
	gates  = "gate"
	alives = "alive"
	heards = "heard"
)

// token is what an identifier must look like to stand in a subject: the form
// that the contracts give to every identifier of the shop. A dot, a slash, a
// blank or a wildcard would make another subject of it, so such a name is
// refused and never rewritten.
var token = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_-]{0,47}$`)

// shopToken is the form of a shop's name, as the journal has it.
var shopToken = regexp.MustCompile(`^[a-z0-9_-]{1,32}$`)

// Probe is where a probe's readings come from.
type Probe struct{ Shop, Zone, Probe string }

// Subject is where the probe publishes; an invalid fault when a name cannot
// stand in a subject.
func (p Probe) Subject() (string, error) {
	return subject(probes, p.Shop, part{"zone", p.Zone}, part{"probe", p.Probe})
}

// ParseProbe reads a probe's subject.
func ParseProbe(s string) (Probe, error) {
	t, err := parse(s, probes, "probe.<shop>.<zone>.<probe>", 2)
	if err != nil {
		return Probe{}, err
	}
	return Probe{Shop: t[0], Zone: t[1], Probe: t[2]}, nil
}

// Probes is the subject of all probes of a shop.
func Probes(shop string) (string, error) { return all(probes, shop, "*.*") }

// Gate is a booth's gate.
type Gate struct{ Shop, Booth string }

// Subject is where the gate's beats are published; an invalid fault when a
// name cannot stand in a subject.
func (g Gate) Subject() (string, error) {
	return subject(gates, g.Shop, part{"booth", g.Booth})
}

// ParseGate reads a gate's subject.
func ParseGate(s string) (Gate, error) {
	t, err := parse(s, gates, "gate.<shop>.<booth>", 1)
	if err != nil {
		return Gate{}, err
	}
	return Gate{Shop: t[0], Booth: t[1]}, nil
}

// Gates is the subject of all gates of a shop.
func Gates(shop string) (string, error) { return all(gates, shop, "*") }

// Alive is one running service.
type Alive struct{ Shop, Service, Instance string }

// Subject is where the service publishes its signs of life; an invalid fault
// when a name cannot stand in a subject.
func (a Alive) Subject() (string, error) {
	return subject(alives, a.Shop, part{"service", a.Service}, part{"instance", a.Instance})
}

// ParseAlive reads the subject of a service's signs of life.
func ParseAlive(s string) (Alive, error) {
	t, err := parse(s, alives, "alive.<shop>.<service>.<instance>", 2)
	if err != nil {
		return Alive{}, err
	}
	return Alive{Shop: t[0], Service: t[1], Instance: t[2]}, nil
}

// Alives is the subject of all services' signs of life of a shop.
func Alives(shop string) (string, error) { return all(alives, shop, "*.*") }

// Heard is a terminal that was heard.
type Heard struct{ Shop, Terminal string }

// Subject is where a terminal's signs of life are published; an invalid fault
// when a name cannot stand in a subject.
func (h Heard) Subject() (string, error) {
	return subject(heards, h.Shop, part{"terminal", h.Terminal})
}

// ParseHeard reads the subject of a terminal's signs of life.
func ParseHeard(s string) (Heard, error) {
	t, err := parse(s, heards, "heard.<shop>.<terminal>", 1)
	if err != nil {
		return Heard{}, err
	}
	return Heard{Shop: t[0], Terminal: t[1]}, nil
}

// Heards is the subject of all terminals' signs of life of a shop.
func Heards(shop string) (string, error) { return all(heards, shop, "*") }

// Topic is the MQTT topic of a subject that this package made.
func Topic(subject string) string { return strings.ReplaceAll(subject, ".", "/") }

// FromTopic is the subject of an MQTT topic; a topic with an empty level or a
// dot is none of ours and comes back as a subject that no parser takes.
func FromTopic(topic string) string {
	if strings.Contains(topic, ".") {
		return ""
	}
	return strings.ReplaceAll(topic, "/", ".")
}

// part is an identifier with what it names.
type part struct{ what, id string }

// Token refuses an identifier that cannot stand in a subject.
func Token(what, id string) error {
	if !token.MatchString(id) {
		return fault.Bad(what, fmt.Sprintf("%.80q", id), "1 to 48 letters, digits, - and _, the first a letter or digit")
	}
	return nil
}

func checkShop(shop string) error {
	if !shopToken.MatchString(shop) {
		return fault.Bad("shop", fmt.Sprintf("%.80q", shop), "1 to 32 lower-case letters, digits, - and _")
	}
	return nil
}

func subject(first, shop string, parts ...part) (string, error) {
	if err := checkShop(shop); err != nil {
		return "", err
	}
	s := first + "." + shop
	for _, p := range parts {
		if err := Token(p.what, p.id); err != nil {
			return "", err
		}
		s += "." + p.id
	}
	return s, nil
}

func all(first, shop, rest string) (string, error) {
	if err := checkShop(shop); err != nil {
		return "", err
	}
	return first + "." + shop + "." + rest, nil
}

// parse takes a subject of a first token, a shop and n identifiers apart.
func parse(s, first, form string, n int) ([]string, error) {
	t := strings.Split(s, ".")
	ok := len(t) == n+2 && t[0] == first && shopToken.MatchString(t[1])
	for i := 2; ok && i < len(t); i++ {
		ok = token.MatchString(t[i])
	}
	if !ok {
		return nil, fault.Bad("subject", fmt.Sprintf("%.120q", s), form+" with identifiers of 1 to 48 letters, digits, - and _")
	}
	return t[1:], nil
}
