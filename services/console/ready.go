package console

import (
	"fmt"
	"maps"
	"slices"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/fault"
)

// newTeller makes a teller that counts what it told in an answer.
func newTeller(c grpc.ClientConnInterface, who string, a *importAnswer) *teller {
	if who == "" {
		who = "import"
	}
	return &teller{clients: newClients(c), name: who, answer: a}
}

// things are the names of what the shop knows, in order.
func (t *teller) things() []string { return slices.Sorted(maps.Keys(t.known)) }

// ready checks before anything is told that every load finds its booth, its
// job and its seams, in the shop or among the facts that come before it.
func (t *teller) ready(facts []proto.Message) error {
	coming := make(map[string]bool, len(facts))
	there := func(what string) bool { return coming[what] || t.known[what].body != nil }
	for _, f := range facts {
		coming[about(f)] = true
		l, ok := f.(*boothv1.LoadPlanned)
		if !ok {
			continue
		}
		const survey = "nothing was stored; import its survey first or in the same command: seamwright import SURVEY.csv --loads FILE"
		if !there("job " + l.GetRo()) {
			return absent(l, "job", l.GetRo(), survey)
		}
		for _, s := range l.GetSeamIds() {
			if !there("seam " + s) {
				return absent(l, "seam", s, survey)
			}
		}
		if !there("booth " + l.GetBoothId()) {
			return absent(l, "booth", l.GetBoothId(), "nothing was stored; import the booths first or in the same command, with --booths DIR")
		}
	}
	return nil
}

func absent(l *boothv1.LoadPlanned, what, id, hint string) error {
	e := fault.Missing(what, id, hint)
	e.Message = fmt.Sprintf("load %s: %s", l.GetLoadId(), e.Message)
	return e
}
