package bus

import (
	"encoding/json"
	"fmt"
	"regexp"
	"time"

	"seamwright/services/fault"
)

// LifeEvery is the time between two signs of life of a service.
const LifeEvery = 500 * time.Millisecond

// Life is one sign of life of a running service.
type Life struct {
	Service  string    `json:"service"`            // "jobs", "booth", "board"
	Instance string    `json:"instance"`           // another name at each start
	Address  string    `json:"address,omitempty"`  // of its gRPC server, "host:port"; empty: it has none
	Sequence uint64    `json:"sequence"`           // of the journal, as far as it has folded it
	Started  time.Time `json:"started"`            // by its own clock
	Now      time.Time `json:"now"`                // by its own clock
	Active   bool      `json:"active"`             // it acts; false: it stands by
	Proof    bool      `json:"proof,omitempty"`    // its process keeps the journal's proof
	Stopping bool      `json:"stopping,omitempty"` // its last one: it goes by itself
}

// MaxLife is the most bytes that a sign of life may have.
const MaxLife = 4 << 10

// address is "host:port", the host a name or a number, IPv6 in brackets.
var address = regexp.MustCompile(`^([A-Za-z0-9._-]+|\[[0-9A-Fa-f:.%a-z]+\]):[0-9]{1,5}$`)

// Encode writes a sign of life that DecodeLife takes; an invalid fault when
// it is not one.
func (l Life) Encode() ([]byte, error) {
	if err := l.check(); err != nil {
		return nil, err
	}
	b, err := json.Marshal(l)
	if err != nil {
		return nil, fault.Wrap(err, fault.Invalid, "bad-life", "give moments in the years 1 to 9999")
	}
	return b, nil
}

// DecodeLife reads a sign of life; whatever is not one is an invalid fault.
// Keys that it does not know are passed over: services of two versions of the
// program see each other while one is replaced.
func DecodeLife(data []byte) (Life, error) {
	var l Life
	if len(data) > MaxLife {
		return l, fault.Bad("sign of life", fmt.Sprintf("%d bytes", len(data)), fmt.Sprintf("at most %d bytes", MaxLife))
	}
	if err := json.Unmarshal(data, &l); err != nil {
		return Life{}, malformed("sign of life", err)
	}
	if err := l.check(); err != nil {
		return Life{}, err
	}
	return l, nil
}

func (l Life) check() error {
	for _, p := range []part{{"service", l.Service}, {"instance", l.Instance}} {
		if err := Token(p.what, p.id); err != nil {
			return err
		}
	}
	if l.Started.IsZero() || l.Now.IsZero() {
		return fault.Bad("started, now", "nothing", "moments by the service's own clock")
	}
	if l.Address != "" && !address.MatchString(l.Address) {
		return fault.Bad("address", fmt.Sprintf("%.120q", l.Address), "host:port of a gRPC server, or none")
	}
	return nil
}
