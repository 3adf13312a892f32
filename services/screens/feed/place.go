package feed

import (
	"cmp"
	"context"
	"slices"

	"seamwright/services/access"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// Booths lists the booths by identifier.
func (s *Source) Booths(ctx context.Context) ([]screens.Named, error) {
	var out []screens.Named
	err := s.look(ctx, 0, func(v *view) error {
		for _, b := range v.f.Booths() {
			out = append(out, screens.Named{ID: string(b), Name: upper(placeName(string(b)))})
		}
		return nil
	})
	return out, err
}

// Terminals lists the terminals of the shop, those of its zones and those of
// its list: that stand in a bay first, then those of booths, then those that
// stand nowhere.
func (s *Source) Terminals(ctx context.Context) ([]screens.Named, error) {
	var out []screens.Named
	err := s.look(ctx, 0, func(v *view) error {
		var all []access.Terminal
		if s.opt.People != nil {
			all = s.opt.People.Terminals()
		}
		for _, id := range s.index.terminals(v.f) {
			if !slices.ContainsFunc(all, func(t access.Terminal) bool { return t.ID == id }) {
				all = append(all, access.Terminal{ID: id, Zone: string(v.f.TerminalZone(id))})
			}
		}
		slices.SortStableFunc(all, func(a, b access.Terminal) int { return cmp.Compare(v.standsIn(a.ID), v.standsIn(b.ID)) })
		named := map[string]int{}
		for _, t := range all {
			named[v.bayName(t.ID)]++
		}
		for _, t := range all {
			name := v.bayName(t.ID)
			if named[name] > 1 { // two in one bay
				name += " · " + placeName(t.ID)
			}
			out = append(out, screens.Named{ID: t.ID, Name: name})
		}
		return nil
	})
	return out, err
}

// standsIn ranks terminals: 0 in a bay, 1 at a booth, 2 anywhere else.
func (v *view) standsIn(terminal string) int {
	switch z := v.terminalZone(terminal); {
	case z == "":
		return 2
	default:
		return v.isBooth(z)
	}
}

func (v *view) isBooth(z floor.ZoneID) int {
	for _, b := range v.f.Booths() {
		if v.f.Booth(b).Zone == z {
			return 1
		}
	}
	return 0
}

// terminalZone is where a terminal stands: as the zone's own fact says, else
// as the list of terminals does; empty when it is carried about.
func (v *view) terminalZone(id string) floor.ZoneID {
	if z := v.f.TerminalZone(id); z != "" {
		return z
	}
	if v.s.opt.People != nil {
		for _, t := range v.s.opt.People.Terminals() {
			if t.ID == id {
				return floor.ZoneID(t.Zone)
			}
		}
	}
	return ""
}

// knownTerminal reports whether a terminal belongs to the shop.
func (v *view) knownTerminal(id string) bool {
	if v.f.TerminalZone(id) != "" || v.s.opt.People == nil {
		return id != ""
	}
	return slices.ContainsFunc(v.s.opt.People.Terminals(), func(t access.Terminal) bool { return t.ID == id })
}
