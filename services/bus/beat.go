package bus

import (
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"seamwright/services/fault"
)

// Sign is what a gate shows.
type Sign string

// The signs. Only Clear lets anybody spray on the gate's word; Override is a
// foreman's.
const (
	Hold     Sign = "HOLD"
	Clear    Sign = "CLEAR"
	Override Sign = "OVERRIDE"
)

// BeatEvery is the time between two beats of a gate, where time runs by
// itself. It is so short that two beats may be lost within Window.
const BeatEvery = 500 * time.Millisecond

// Beat is one beat of a booth's gate. It is sent each BeatEvery; within one
// holder's run its number goes up by one each time.
type Beat struct {
	Booth    string    `json:"booth"`
	Holder   string    `json:"holder"` // the booth service that speaks; another name at each of its starts
	Number   uint64    `json:"beat"`
	Sign     Sign      `json:"sign"`
	Load     string    `json:"load,omitempty"`    // the permit's, else the next one
	Permit   string    `json:"permit,omitempty"`  // the running permit
	StartBy  time.Time `json:"start_by,omitzero"` // the permit's: spraying must have begun
	Reasons  []Reason  `json:"reasons"`           // why it holds, or what an override goes over
	Sequence uint64    `json:"sequence"`          // of the journal, as far as the gate has seen it
	Now      time.Time `json:"now"`               // the moment that it speaks of, by the shop's clock
}

// Reason is one ground of a hold.
type Reason struct {
	Name    string    `json:"name"`           // stable, "flow-out"
	Subject string    `json:"subject"`        // what it is about, "seam/2207/rd-l"; may be empty
	Text    string    `json:"text"`           // for people
	Until   time.Time `json:"until,omitzero"` // when it surely falls away, if time alone brings it
	Maybe   time.Time `json:"maybe,omitzero"` // when it may
}

// MaxBeat is the most bytes that a beat may have.
const MaxBeat = 64 << 10

// maxReasons is how many reasons a beat may name.
const maxReasons = 200

var (
	beatKeys   = []string{"booth", "holder", "beat", "sign", "load", "permit", "start_by", "reasons", "sequence", "now"}
	reasonKeys = []string{"name", "subject", "text", "until", "maybe"}
)

// Encode writes a beat that DecodeBeat takes; an invalid fault when it is not
// one. Reasons beyond what a message holds are left out, and the last one
// says how many.
func (b Beat) Encode() ([]byte, error) {
	all := b.Reasons
	if all == nil {
		b.Reasons = []Reason{}
	}
	for keep := min(len(all), maxReasons); ; keep /= 2 {
		if keep < len(all) {
			more := Reason{Name: "more", Text: fmt.Sprintf("and %d more reasons", len(all)-max(keep-1, 0))}
			b.Reasons = append(slices.Clone(all[:max(keep-1, 0)]), more)
		}
		if err := b.check(); err != nil {
			return nil, err
		}
		out, err := json.Marshal(b)
		if err != nil {
			return nil, fault.Wrap(err, fault.Invalid, "bad-beat", "give moments in the years 1 to 9999")
		}
		if len(out) <= MaxBeat {
			return out, nil
		}
		if keep == 0 {
			return nil, fault.Bad("beat", fmt.Sprintf("%d bytes", len(out)), fmt.Sprintf("at most %d bytes", MaxBeat))
		}
	}
}

// DecodeBeat reads a beat. Whatever is not exactly one is an invalid fault;
// who reads it holds.
func DecodeBeat(data []byte) (Beat, error) {
	var b Beat
	if err := decode("beat", data, MaxBeat, &b, beatKeys, reasonKeys); err != nil {
		return Beat{}, err
	}
	if err := b.check(); err != nil {
		return Beat{}, err
	}
	return b, nil
}

// check says whether a beat can be one. What says that spraying may begin
// names the load, the permit and its time, and CLEAR has no reason against it.
func (b Beat) check() error {
	for _, p := range []part{{"booth", b.Booth}, {"holder", b.Holder}} {
		if err := Token(p.what, p.id); err != nil {
			return err
		}
	}
	switch {
	case b.Number == 0:
		return fault.Bad("beat", b.Number, "1 or more")
	case b.Now.IsZero():
		return fault.Bad("now", "nothing", "the moment that the beat speaks of")
	case len(b.Reasons) > maxReasons:
		return fault.Bad("reasons", len(b.Reasons), fmt.Sprintf("at most %d", maxReasons))
	}
	switch b.Sign {
	case Hold:
		return nil
	case Clear:
		if len(b.Reasons) > 0 {
			return fault.Bad("reasons", b.Reasons[0].Name, "none when the sign is CLEAR")
		}
	case Override:
	default:
		return fault.Bad("sign", fmt.Sprintf("%.40q", b.Sign), "one of HOLD, CLEAR, OVERRIDE")
	}
	if b.Load == "" || b.Permit == "" || b.StartBy.IsZero() {
		return fault.Bad("sign", b.Sign, "a load, a permit and its start_by with it")
	}
	return nil
}
