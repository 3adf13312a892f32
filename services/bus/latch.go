package bus

import "fmt"

// HoldBrokenOff is the reason of a reader that held under a leave and hears
// the same leave again.
const HoldBrokenOff = "leave-broken-off"

// Latch keeps a reader from giving a leave back by itself. A judge that held
// because it heard nothing is content again after two beats; but the gate
// does not know that its reader was cut off, and whoever stopped at the HOLD
// must not be set going by a cable that makes contact again. So a leave that
// was once shown and then held stays HOLD until another one is given. ISO 12100
// asks the same of machines: none starts again by itself when what stopped it
// comes back (6.2.11.4, restart after power interruption; number from memory).
// The zero value has shown nothing yet; a latch is used from one goroutine.
type Latch struct {
	shown  string // the permit that the newest verdict went by; empty: it held
	broken string // the one before, which a hold ended
	why    string // the first reason of that hold
}

// Show takes what a judge says and returns what the reader may show.
func (l *Latch) Show(v Verdict) Verdict {
	switch {
	case v.Sign == Hold:
		if l.shown != "" {
			l.broken, l.shown, l.why = l.shown, "", ""
			if len(v.Reasons) > 0 {
				l.why = v.Reasons[0].Text
			}
		}
	case v.Permit == l.broken:
		text := fmt.Sprintf("leave %s was shown here and then held; it does not come back by itself: give it back at the booth and ask anew", v.Permit)
		if l.why != "" {
			text += " (it held because " + l.why + ")"
		}
		return Verdict{
			Booth: v.Booth, Sign: Hold, Load: v.Load, Holder: v.Holder, Beat: v.Beat,
			Reasons: []Reason{{Name: HoldBrokenOff, Text: text}},
		}
	default:
		l.shown = v.Permit
	}
	return v
}
