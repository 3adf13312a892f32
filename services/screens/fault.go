package screens

import "strings"

// faultBand is the band over a page while something is wrong with the shop's
// program, its disk or its clock.
type faultBand struct{ Head, Words string }

// keepNote is what whoever wants to tell something does meanwhile.
const keepNote = "Keep a note and tell it later."

// bandOf puts a picture's faults into the words of the band: that nothing is
// recorded comes before all else, then what is wrong, and what to do.
func bandOf(p Picture) faultBand {
	if len(p.Faults) == 0 {
		return faultBand{}
	}
	worst := p.Faults[0]
	b := faultBand{Head: worst.Text, Words: worst.Do}
	if worst.Lost {
		b = faultBand{Head: "Nothing is being recorded: " + inSentence(worst.Text), Words: keepNote + " " + worst.Do}
	}
	if more := len(p.Faults) - 1; more > 0 { // the booth's screen lists them
		b.Words += " And " + amountOf(more, "more fault") + "."
	}
	return b
}

// inSentence is a sentence that goes on behind a colon.
func inSentence(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

func (d *drawer) fault(p Picture) part { return d.draw("fault", "fault", bandOf(p)) }
