package spec

import (
	"strconv"
	"strings"
)

// nozzleNames are the kinds as the bay reads them.
var nozzleNames = map[NozzleKind]string{RoundTip: "round tip", Spreader: "spreader", GuidedStep: "guided step nozzle"}

// String says it as the bay reads it: "spreader cut at 25 mm".
func (n Nozzle) String() string {
	name := nozzleNames[n.Kind]
	if n.CutMM > 0 && n.Kind != GuidedStep {
		name += " cut at " + strconv.FormatFloat(n.CutMM, 'f', -1, 64) + " mm"
	}
	return name
}

// ReadNozzle reads what String says, or a kind's own word; false for any other
// text.
func ReadNozzle(text string) (Nozzle, bool) {
	text = strings.TrimSpace(text)
	name, cut, cutTo := strings.Cut(text, " cut at ")
	for kind, n := range nozzleNames {
		if name != n && name != string(kind) {
			continue
		}
		if !cutTo {
			return Nozzle{Kind: kind}, true
		}
		mm, err := strconv.ParseFloat(strings.TrimSuffix(cut, " mm"), 64)
		if err != nil || !(mm > 0 && mm <= 1000) {
			return Nozzle{}, false
		}
		return Nozzle{kind, mm}, true
	}
	return Nozzle{}, false
}
