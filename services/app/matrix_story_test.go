package app_test

import (
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/clock"
	"seamwright/services/floor"
	"seamwright/services/record"
	"seamwright/services/record/recordtest"
)

// story tells what a shop did before the program is looked at.
type story struct {
	*lane
	desk  *record.Desk
	clock *clock.Driven
}

func (p *story) say(body proto.Message) {
	p.t.Helper()
	_, err := p.desk.Record(p.t.Context(), floor.Command{Stamp: p.stamp(floorv1.Role_ROLE_FOREMAN), Body: body},
		func(f *floor.Floor, c floor.Command, at time.Time) (floor.Event, error) { return f.Decide(c, at) })
	if err != nil {
		p.t.Fatalf("%T: %v", body, err)
	}
}

func (p *story) airs() {
	p.t.Helper()
	for _, z := range []string{"bay-1", "room"} {
		p.say(&curesv1.ReadingTaken{ZoneId: z, ProbeId: "p-" + z, TempC: 21, RhPercent: proto.Float64(45)})
	}
}

func (p *story) tell() {
	p.t.Helper()
	for _, z := range []string{"bay-1", "room", "yard"} {
		p.say(zone(z))
	}
	p.say(recordtest.Levelling())
	p.say(&materialsv1.LotReceived{LotId: "L1", ProductId: "sl", Cartridges: 6})
	p.say(&materialsv1.CartridgeOpened{CartridgeId: "C1", LotId: "L1"})
	p.say(&materialsv1.CartridgeEqualised{CartridgeId: "C1", VolumeMl: proto.Float64(2)})
	p.say(&boothv1.BoothDefined{BoothId: theBooth, ZoneId: "room", FirstCoatMin: 20, ProcessMin: 60})
	p.say(&jobsv1.JobOpened{Ro: "2207", Vehicle: "blue hatchback", PaintColour: "blue", Coats: []floorv1.Coat{floorv1.Coat_COAT_WATERBORNE}})
	p.say(&jobsv1.SeamSurveyed{
		SeamId: theSeam, Panel: "roof", Place: "roof ditch", Side: "L", LengthMm: 1400,
		Orientation: floorv1.Orientation_ORIENTATION_LEVEL, Finish: floorv1.Finish_FINISH_COATED, Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER,
		Reference: &floorv1.Reference{Source: floorv1.ReferenceSource_REFERENCE_SOURCE_BEFORE_TEAR_DOWN, WidthMm: 12, HeightMm: 4},
	})
	p.say(&boothv1.LoadPlanned{LoadId: theLoad, BoothId: theBooth, Ro: "2207", Colour: "blue", SeamIds: []string{theSeam}})
	p.airs()
	p.say(&jobsv1.SeamPlanned{
		SeamId: theSeam, ProductId: "sl", Profile: floorv1.Profile_PROFILE_LEVELLED, WidthMm: 12, HeightMm: 4,
		Technique: floorv1.Technique_TECHNIQUE_DIRECT_BEAD, VolumeMl: 60,
	})
	p.say(&jobsv1.SurfacePrepped{SeamId: theSeam, Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER})
	p.say(&materialsv1.NozzleFitted{CartridgeId: "C1", NozzleId: "N1", Kind: "round"})
	p.say(&materialsv1.CartridgePurged{CartridgeId: "C1", VolumeMl: proto.Float64(2)})
	p.say(bead())
	for range 45 {
		if err := p.clock.Advance(2 * time.Minute); err != nil {
			p.t.Fatal(err)
		}
		p.airs()
	}
}

func bead() *jobsv1.BeadLaid {
	return &jobsv1.BeadLaid{
		SeamId: theSeam, CartridgeId: "C1", NozzleId: "N1", Layer: floorv1.Layer_LAYER_BEAD, SurfaceTempC: proto.Float64(21), VolumeMl: proto.Float64(60),
		Technique: floorv1.Technique_TECHNIQUE_DIRECT_BEAD, Profile: floorv1.Profile_PROFILE_LEVELLED,
	}
}

func zone(id string) *curesv1.ZoneDefined {
	z := &curesv1.ZoneDefined{
		ZoneId: id, LimitLowC: 5, LimitHighC: 35, ProbeErrorC: 0.5, DriftCPerMin: 0.2,
		StaleAfter: durationpb.New(stale), Settling: durationpb.New(30 * time.Minute),
	}
	if id == "bay-1" {
		z.Works, z.Terminals = true, []string{"bay-1-tablet"}
	}
	return z
}
