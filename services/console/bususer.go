package console

import (
	"context"
	"encoding/json"
	"os"
	"slices"
	"strings"
	"time"

	"google.golang.org/grpc"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	"seamwright/services/access"
	"seamwright/services/app"
	"seamwright/services/bus"
	"seamwright/services/fault"
)

// BusUser lets somebody onto a shop's message bus, with a password of their
// own that is told this once, or takes them off it.
type BusUser struct {
	Dir, Kind, Zone, Probe, Name string
	Shop                         string // for the topic; that of the running shop, or the usual one, if empty
	Remove                       bool
}

type busUserAnswer struct {
	User     string `json:"user"`
	Password string `json:"password"`
	Kind     string `json:"kind"`
	Topic    string `json:"topic"` // MQTT; a probe's and a reader's
	Bus      string `json:"bus"`   // of the running shop; empty: it does not run or has none
	MQTT     string `json:"mqtt"`
	File     string `json:"file"`
	Removed  bool   `json:"removed"`
	Warning  string `json:"warning"` // a probe's: that its zone was not checked; empty for the others
}

func (a busUserAnswer) Lines() []string {
	if a.Removed {
		return []string{a.User + " is taken out of " + a.File + "; a running shop puts it out within seconds"}
	}
	out := []string{"user      " + a.User, "password  " + a.Password + " (shown this once)"}
	for _, l := range [][2]string{{"topic     ", a.Topic}, {"MQTT      ", a.MQTT}, {"bus       ", a.Bus}} {
		if l[1] != "" {
			out = append(out, l[0]+l[1])
		}
	}
	if a.Warning != "" {
		out = append(out, "warning   "+a.Warning)
	}
	return append(out, "It stands in "+a.File+"; the shop that runs in this folder lets it in within seconds. A NATS server of its own has its users in its configuration.")
}

// Run enrols or dismisses.
func (q BusUser) Run(o Out) error {
	if err := shopFolder(q.Dir); err != nil {
		return err
	}
	kind, err := word("--kind", q.Kind, access.BusKinds)
	if err != nil {
		return err
	}
	u := access.BusUser{Kind: kind, Zone: q.Zone, Probe: q.Probe, Name: q.Name}
	a := busUserAnswer{User: u.User(), Kind: q.Kind, File: app.BusFile(q.Dir), Removed: q.Remove}
	if q.Remove {
		err = access.DismissBus(a.File, u)
	} else {
		a.Password, err = access.EnrolBus(a.File, u)
	}
	if err != nil {
		return flagged(err)
	}
	if err := handBack(q.Dir); err != nil {
		return err
	}
	var at upAnswer
	if b, err := os.ReadFile(runningFile(q.Dir)); err == nil && json.Unmarshal(b, &at) == nil {
		a.Bus, a.MQTT = at.Bus, at.MQTT
	}
	shop := q.Shop
	if shop == "" {
		shop = at.Shop
	}
	if shop == "" {
		shop = DefaultShop
	}
	switch kind {
	case access.BusProbe:
		s, err := bus.Probe{Shop: shop, Zone: q.Zone, Probe: q.Probe}.Subject()
		if err != nil {
			return flagged(err)
		}
		a.Topic, a.Bus = bus.Topic(s), ""
		if !q.Remove {
			a.Warning = zoneWarning(q.Dir, q.Zone)
		}
	case access.BusReader:
		a.Topic = "gate/" + shop + "/+"
	case access.BusService:
		a.MQTT = ""
	}
	return o.put(a)
}

// askedFor is how long a running shop may take to tell its zones.
const askedFor = 3 * time.Second

// zoneWarning says what is wrong with a zone, by the shop that runs in a
// folder; empty: it has that zone.
func zoneWarning(dir, zone string) string {
	const use = "readings of a zone that the shop does not know are no help to any bead"
	ctx, cancel := context.WithTimeout(context.Background(), askedFor)
	defer cancel()
	var known []string
	err := At{Dir: dir}.with(ctx, func(c grpc.ClientConnInterface) error {
		r, err := curesv1.NewCuresServiceClient(c).ListZones(ctx, &curesv1.ListZonesRequest{})
		for _, z := range r.GetZones() {
			known = append(known, z.GetZoneId())
		}
		return err
	})
	switch {
	case err != nil:
		return "whether the shop knows a zone " + zone + " was not checked, since it does not run: " + use + "; see that the name is that of a zone file"
	case slices.Contains(known, zone):
		return ""
	case len(known) == 0:
		return "the shop knows no zone yet: " + use + "; tell them with: seamwright import --zones DIR"
	}
	return "the shop knows no zone " + zone + ", it has " + strings.Join(known, ", ") + ": " + use
}

// shopFolder is the fault of a folder of a shop that was not named or is not
// there.
func shopFolder(dir string) error {
	if dir == "" {
		return missing("--dir", "the shop's folder")
	}
	if i, err := os.Stat(dir); err != nil || !i.IsDir() {
		return fault.Bad("--dir", show(dir), "a folder that is there; a shop's is made by seamwright up --dir DIR, any other by mkdir")
	}
	return nil
}
