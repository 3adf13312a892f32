package console

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
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

// readable checks before anything is told that every trace is of a zone that
// the shop knows, or will, and that the shop takes its readings: none from the
// future of its own clock, none too old.
func (t *teller) readable(ctx context.Context, in imported) error {
	if len(in.readings) == 0 {
		return nil
	}
	r, err := t.cures.ListZones(ctx, &curesv1.ListZonesRequest{})
	if err != nil {
		return err
	}
	now := r.GetNow().AsTime()
	for _, tr := range in.readings {
		zone := "zone " + tr.zone
		if t.known[zone].body == nil && !slices.ContainsFunc(in.facts, func(f proto.Message) bool { return about(f) == zone }) {
			e := fault.Missing("zone", tr.zone, "nothing was stored; a file is named for its zone; import the zones first or in the same command, with --zones DIR")
			e.Message = "readings of " + tr.zone + ": " + e.Message
			return e
		}
		first, last := tr.readings[0].At, tr.readings[len(tr.readings)-1].At
		switch {
		case now.Sub(first) > floor.MaxAge:
			return unreadable(tr, first, fmt.Sprintf("readings are taken up to %d days back: leave those before %s out", floor.MaxAge/(24*time.Hour), now.Add(-floor.MaxAge).Format(time.RFC3339)))
		case last.After(now):
			return unreadable(tr, last, "not after "+now.Format(time.RFC3339)+", the shop's time: set the logger's clock")
		}
	}
	return nil
}

func unreadable(tr trace, at time.Time, limit string) error {
	e := fault.Bad("readings of "+tr.zone, at.Format(time.RFC3339), limit)
	e.Hint = "nothing was stored"
	return e
}
