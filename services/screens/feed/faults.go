package feed

import (
	"cmp"
	"slices"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// faults are what is wrong with the shop's program, its disk or its clock:
// what the gates hold by, and what this process's health says, since a gate
// for which no load waits gives no reasons. The worst come first.
func (v *view) faults(gates map[floor.BoothID]*boothv1.Gate, health error) []screens.Reason {
	names := map[string]bool{}
	for _, g := range gates {
		for _, r := range g.GetReasons() {
			names[r.GetName()] = true
		}
	}
	for _, r := range v.f.Gate("", v.now, floor.Live{Health: health}).Reasons {
		names[r.Name] = true
	}
	if names[floor.HoldDiskFull] { // one trouble, told by its cause
		delete(names, floor.HoldUnwritable)
	}
	var found []string
	for name := range names {
		// Those of the gate alone are no trouble to who stands elsewhere.
		if floor.OfProcess(name) && !ofGate[name] {
			found = append(found, name)
		}
	}
	slices.SortFunc(found, func(a, b string) int { return cmp.Or(cmp.Compare(rank(a), rank(b)), cmp.Compare(a, b)) })
	out := make([]screens.Reason, 0, len(found))
	for _, name := range found {
		out = append(out, processWords[name])
	}
	return out
}

// ofGate are the troubles of a booth's gate alone: they stand at the booth.
var ofGate = map[string]bool{floor.HoldPanic: true, floor.HoldGatePaused: true, floor.HoldOtherHolder: true}

// rank orders reasons to hold as a painter must know them: what is wrong with
// the program and its disk, with the booth, with the air, with a tablet; last
// the hours, which end by themselves.
func rank(name string) int {
	switch name {
	case floor.HoldDiskFull:
		return 0
	case floor.HoldUnwritable:
		return 1
	case floor.HoldBoothFault:
		return 4
	case floor.HoldSilent:
		return 6
	case floor.HoldBoothClosed:
		return 7
	}
	switch {
	case processWords[name].Lost:
		return 2
	case floor.OfProcess(name):
		return 3
	}
	return 5
}

// byRank are the reasons of a gate, the worst first.
func byRank(rs []*boothv1.Reason) []*boothv1.Reason {
	out := slices.Clone(rs)
	slices.SortStableFunc(out, func(a, b *boothv1.Reason) int { return cmp.Compare(rank(a.GetName()), rank(b.GetName())) })
	return out
}

// faultWords tells the faults of the program among a gate's reasons: the worst
// with what to do about it, the others by their number. Empty: there are none.
func (v *view) faultWords(rs []*boothv1.Reason) string {
	words, more := "", 0
	for _, r := range byRank(rs) {
		if !floor.OfProcess(r.GetName()) {
			continue
		}
		if words != "" {
			more++
			continue
		}
		w := v.reason(r)
		words = w.Text + " " + w.Do
	}
	if more > 0 {
		words += " " + count(more, "more fault") + " below."
	}
	return words
}
