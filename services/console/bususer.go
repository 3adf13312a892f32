package console

import (
	"encoding/json"
	"os"

	"seamwright/services/access"
	"seamwright/services/app"
	"seamwright/services/bus"
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
	return append(out, "It stands in "+a.File+"; a running shop lets it in within seconds.")
}

// Run enrols or dismisses.
func (q BusUser) Run(o Out) error {
	if q.Dir == "" {
		return missing("--dir", "the shop's folder")
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
			a.Warning = "whether the shop knows a zone " + q.Zone + " was not checked: readings of a zone that it does not know are no help to any bead; see that the name is that of a zone file"
		}
	case access.BusReader:
		a.Topic = "gate/" + shop + "/+"
	case access.BusService:
		a.MQTT = ""
	}
	return o.put(a)
}
