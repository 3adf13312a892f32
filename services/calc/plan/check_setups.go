package plan

import (
	"fmt"
	"slices"
	"strings"

	"seamwright/services/fault"
)

// checkSetups sees that each pair of colours that can follow each other in
// some booth has its setup.
func (p *Problem) checkSetups() error {
	for from, row := range p.Setups {
		for to, d := range row {
			if err := length("setup_min."+from+"."+to, d, true); err != nil {
				return err
			}
		}
	}
	return p.checkPairs()
}

// checkPairs lists the pairs that are missing, with the loads that would
// follow each other.
func (p *Problem) checkPairs() error {
	const most = 6
	var lacks []pair
	seen := map[[2]string]bool{}
	add := func(x pair) bool {
		key := [2]string{x.from, x.to}
		if _, ok := p.Setups[x.from][x.to]; !ok && !seen[key] {
			seen[key] = true
			lacks = append(lacks, x)
		}
		return len(lacks) > most
	}
	for i := range p.Booths {
		if p.pairsOf(&p.Booths[i], add) {
			break
		}
	}
	if len(lacks) == 0 {
		return nil
	}
	x := lacks[0]
	limit := fmt.Sprintf("the minutes of setup from %s to %s, for load %s in booth %s %s; write \"setup_min\": {%s: {%s: 20}} if it takes 20",
		quote(x.from), quote(x.to), quote(x.load), quote(x.booth), x.behind, quote(x.from), quote(x.to))
	var more []string
	for _, x := range lacks[1:min(len(lacks), most)] {
		more = append(more, quote(x.from)+" to "+quote(x.to))
	}
	if len(lacks) > most {
		more = append(more, "others")
	}
	if len(more) > 0 {
		limit += ", and so for " + strings.Join(more, ", ")
	}
	return fault.Bad("setup_min."+x.from+"."+x.to, "missing", limit)
}

// pair is a setup that can come in a booth: before a load, behind what.
type pair struct{ from, to, booth, load, behind string }

// pairsOf goes through the pairs of a booth until add has enough.
func (p *Problem) pairsOf(b *Booth, add func(pair) bool) bool {
	of := map[string][]string{} // loads by colour
	var order []string
	for i := range p.Loads {
		l := &p.Loads[i]
		if slices.Contains(l.Booths, b.ID) {
			if of[l.Colour] == nil {
				order = append(order, l.Colour)
			}
			of[l.Colour] = append(of[l.Colour], l.ID)
		}
	}
	for _, to := range order {
		if add(pair{b.Colour, to, b.ID, of[to][0], "when it comes first"}) {
			return true
		}
		for _, from := range order {
			load, behind := of[to][0], of[from][0]
			if from == to && len(of[to]) > 1 {
				load = of[to][1]
			}
			if load != behind && add(pair{from, to, b.ID, load, "behind load " + quote(behind)}) {
				return true
			}
		}
	}
	return false
}
