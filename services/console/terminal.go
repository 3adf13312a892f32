package console

import (
	"context"
	"slices"
	"strings"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	"seamwright/services/fault"
)

// Terminal tells a running shop that a terminal stands in a zone. It is taken
// out of the zone that it stood in before; where it stands already, nothing is
// told.
type Terminal struct {
	At
	ID, Zone string
	Name     string // who says so; "import" if empty
}

type terminalAnswer struct {
	Terminal string   `json:"terminal"`
	Zone     string   `json:"zone"`
	From     []string `json:"from"` // zones that it stood in before
	Recorded int      `json:"recorded"`
	Sequence uint64   `json:"sequence"`
}

func (a terminalAnswer) Lines() []string {
	line := a.Terminal + " stands in " + a.Zone
	switch {
	case a.Recorded == 0:
		line += " already; nothing was told"
	case len(a.From) > 0:
		line += ", no longer in " + strings.Join(a.From, ", ")
	}
	return []string{line, "on the tablet open the screens at /bay and choose it"}
}

// Run enrols the terminal.
func (q Terminal) Run(ctx context.Context, o Out) error {
	if q.ID == "" {
		return missing("--id", "the terminal's identifier, like bay-1-tablet")
	}
	if !floorID.MatchString(q.ID) {
		return fault.Bad("--id", show(q.ID), idForm)
	}
	if q.Zone == "" {
		return missing("--zone", "the zone that it stands in, like bay-1")
	}
	told := importAnswer{}
	a := terminalAnswer{Terminal: q.ID, Zone: q.Zone, From: []string{}}
	err := q.with(ctx, func(c grpc.ClientConnInterface) error {
		t := newTeller(c, q.Name, &told)
		if err := t.learn(ctx, c); err != nil {
			return err
		}
		facts, err := t.place(q.ID, q.Zone)
		if err != nil {
			return err
		}
		for _, f := range facts {
			if err := t.tell(ctx, f); err != nil {
				return err
			}
			if f.GetZoneId() != q.Zone {
				a.From = append(a.From, f.GetZoneId())
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	a.Recorded, a.Sequence = told.Recorded, told.Sequence
	return o.put(a)
}

// place makes the definitions that put a terminal into a zone: the zone's with
// it, and without it those of zones that had it.
func (t *teller) place(id, zone string) ([]*curesv1.ZoneDefined, error) {
	var known []string
	var out []*curesv1.ZoneDefined
	var ofBooth bool
	for _, what := range t.things() {
		switch b := t.known[what].body.(type) {
		case *boothv1.BoothDefined:
			ofBooth = ofBooth || b.GetZoneId() == zone
		case *curesv1.ZoneDefined:
			known = append(known, b.GetZoneId())
			z := bare(b).(*curesv1.ZoneDefined)
			has := slices.Contains(z.GetTerminals(), id)
			switch {
			case z.GetZoneId() == zone && !has:
				z.Terminals = append(z.Terminals, id)
				out = slices.Insert(out, 0, z) // first, so that it always stands somewhere
			case z.GetZoneId() != zone && has:
				z.Terminals = slices.DeleteFunc(z.Terminals, func(s string) bool { return s == id })
				out = append(out, z)
			}
		}
	}
	if !slices.Contains(known, zone) {
		hint := "tell its zones first: seamwright import --zones DIR"
		if len(known) > 0 {
			hint = "the shop has " + strings.Join(known, ", ") + "; others are told with seamwright import --zones DIR"
		}
		return nil, fault.Missing("zone", zone, hint)
	}
	if len(out) > 0 && out[0].GetZoneId() == zone {
		out[0].Works = out[0].GetWorks() || !ofBooth // where a tablet stands, people work; in a booth's own air no car is repaired
	}
	return out, nil
}

// keepTerminals leaves the terminals of a zone as the shop has them when the
// import has no list of them: a zone file does not name them.
func (q Import) keepTerminals(z *curesv1.ZoneDefined, before proto.Message) {
	b, ok := before.(*curesv1.ZoneDefined)
	if !ok || q.People != "" {
		return
	}
	z.Terminals = b.GetTerminals()
	if q.Booths == "" {
		z.Works = b.GetWorks() // which zones are a booth's own is not known here
	}
}
