package booth_test

import (
	"context"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/access"
	"seamwright/services/booth"
	"seamwright/services/floor"
	"seamwright/services/record"
	"seamwright/services/record/recordtest"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

const seam = "2207/rd-l"

var (
	peopleFile = filepath.Join("..", "..", "testdata", "shop", "people.yaml")
	zeros      = strings.Repeat("0", 64)
)

// house is a shop with a booth, its gate, and the service in front of it.
type house struct {
	*recordtest.Shop
	t    *testing.T
	gate *booth.Gate
	boothv1.BoothServiceClient
	fault error // what the health says
	sent  []*boothv1.Gate
}

// open is a house whose gate has begun.
func open(t *testing.T) *house {
	t.Helper()
	h := &house{Shop: recordtest.New(), t: t}
	people, err := access.Load(peopleFile)
	if err != nil {
		t.Fatal(err)
	}
	h.gate = booth.NewGate(h.Desk, booth.Options{
		Holder: "gate-a", Lease: 30 * time.Minute, Health: func() error { return h.fault },
		Send: func(b *boothv1.Gate) { h.sent = append(h.sent, b) },
	})
	h.BoothServiceClient = boothv1.NewBoothServiceClient(h.Serve(t, booth.NewServer(h.Desk, h.gate, people).Register))
	h.step()
	return h
}

// ready is a house in which the load 2207-A may be sprayed: its one seam was
// laid as it should be, more than an hour ago.
func ready(t *testing.T) *house {
	t.Helper()
	h := open(t)
	h.furnish()
	h.lay()
	h.wait(80 * time.Minute)
	return h
}

func (h *house) furnish() {
	h.t.Helper()
	h.Furnish(h.t)
	h.Tell(h.t, &curesv1.ZoneDefined{
		ZoneId: "room", LimitLowC: 5, LimitHighC: 35, ProbeErrorC: 0.5, DriftCPerMin: 0.2,
		StaleAfter: durationpb.New(15 * time.Minute), Settling: durationpb.New(30 * time.Minute),
	})
	for _, b := range []string{"booth-1", "booth-2"} {
		h.Tell(h.t, &boothv1.BoothDefined{BoothId: b, ZoneId: "room", FirstCoatMin: 20, ProcessMin: 60})
	}
	h.Tell(h.t, &materialsv1.CartridgeEqualised{CartridgeId: "C1", VolumeMl: proto.Float64(2)})
	h.job("2207")
}

// job opens a job of one seam and one load.
func (h *house) job(ro string) {
	h.t.Helper()
	h.Tell(h.t, &jobsv1.JobOpened{Ro: ro, Vehicle: "blue hatchback", PaintColour: "blue", Coats: []floorv1.Coat{floorv1.Coat_COAT_WATERBORNE}})
	h.Tell(h.t, &jobsv1.SeamSurveyed{
		SeamId: ro + "/rd-l", Panel: "roof", Place: "roof ditch", Side: "L", LengthMm: 1400,
		Orientation: floorv1.Orientation_ORIENTATION_LEVEL, Finish: floorv1.Finish_FINISH_COATED, Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER,
		Reference: &floorv1.Reference{Source: floorv1.ReferenceSource_REFERENCE_SOURCE_BEFORE_TEAR_DOWN, WidthMm: 12, HeightMm: 4},
	})
	h.Tell(h.t, &boothv1.LoadPlanned{LoadId: ro + "-A", BoothId: "booth-1", Ro: ro, Colour: "blue", SeamIds: []string{ro + "/rd-l"}})
}

// at tells a fact at the bay's tablet.
func (h *house) at(body proto.Message) *floorv1.Receipt {
	h.t.Helper()
	st := h.Stamp(floorv1.Role_ROLE_TECHNICIAN)
	st.Terminal = "bay-1-tablet"
	r, err := h.Desk.Record(h.t.Context(), floor.Command{Stamp: st, Body: body},
		func(f *floor.Floor, c floor.Command, at time.Time) (floor.Event, error) { return f.Decide(c, at) })
	if err != nil {
		h.t.Fatal(err)
	}
	return r
}

// lay lays a seam by the book.
func (h *house) lay() *floorv1.Receipt {
	h.t.Helper()
	h.read(21)
	h.Tell(h.t, &jobsv1.SeamPlanned{
		SeamId: seam, ProductId: "sl", Profile: floorv1.Profile_PROFILE_LEVELLED, WidthMm: 12, HeightMm: 4,
		Technique: floorv1.Technique_TECHNIQUE_DIRECT_BEAD, VolumeMl: 60,
	})
	h.at(&jobsv1.SurfacePrepped{SeamId: seam, Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER})
	h.at(&materialsv1.NozzleFitted{CartridgeId: "C1", NozzleId: "N1", Kind: "round"})
	h.at(&materialsv1.CartridgePurged{CartridgeId: "C1", VolumeMl: proto.Float64(2)})
	return h.at(&jobsv1.BeadLaid{
		SeamId: seam, CartridgeId: "C1", NozzleId: "N1", Layer: floorv1.Layer_LAYER_BEAD, SurfaceTempC: proto.Float64(21), VolumeMl: proto.Float64(60),
		Technique: floorv1.Technique_TECHNIQUE_DIRECT_BEAD, Profile: floorv1.Profile_PROFILE_LEVELLED,
	})
}

func (h *house) read(c float64) {
	h.t.Helper()
	h.Read(h.t, c)
	h.Tell(h.t, &curesv1.ReadingTaken{ZoneId: "room", ProbeId: "p2", TempC: c, RhPercent: proto.Float64(45)})
}

// wait lets time pass with readings and signs of life every five minutes.
func (h *house) wait(d time.Duration) {
	h.t.Helper()
	for ; d > 0; d -= 5 * time.Minute {
		h.pass(min(d, 5*time.Minute))
		h.read(21)
		h.hear()
		h.step()
	}
}

func (h *house) pass(d time.Duration) {
	h.t.Helper()
	if err := h.Time.Advance(d); err != nil {
		h.t.Fatal(err)
	}
}

func (h *house) hear() {
	h.t.Helper()
	if _, err := h.Hear(h.t.Context(), &boothv1.HearRequest{Terminal: "bay-1-tablet"}); err != nil {
		h.t.Fatal(err)
	}
}

// step is one look of the gate.
func (h *house) step() {
	h.t.Helper()
	if _, err := h.gate.Step(h.t.Context(), h.Time.Now()); err != nil {
		h.t.Fatal(err)
	}
}

func (h *house) painter() *floorv1.Stamp {
	st := h.Stamp(floorv1.Role_ROLE_PAINTER)
	st.Actor, st.Terminal = "Sel Thrushgate", "booth-screen"
	return st
}

func (h *house) foreman() *floorv1.Stamp {
	st := h.Stamp(floorv1.Role_ROLE_FOREMAN)
	st.Actor, st.Terminal = "Ansa Vellacorn", "desk"
	return st
}

func (h *house) ask() *boothv1.RequestPermitResponse {
	h.t.Helper()
	r, err := h.RequestPermit(h.t.Context(), &boothv1.RequestPermitRequest{Stamp: h.painter(), BoothId: "booth-1", LoadId: "2207-A"})
	if err != nil {
		h.t.Fatal(err)
	}
	return r
}

// permit is a permit that must be given.
func (h *house) permit() *boothv1.Permit {
	h.t.Helper()
	r := h.ask()
	if r.GetPermit() == nil || len(r.GetReasons()) > 0 {
		h.t.Fatalf("held: %v", names(r.GetReasons()))
	}
	return r.GetPermit()
}

func names(rs []*boothv1.Reason) []string {
	var out []string
	for _, r := range rs {
		out = append(out, r.GetName())
	}
	return slices.Compact(out)
}

func (h *house) state() *boothv1.Gate {
	h.t.Helper()
	r, err := h.GetGate(h.t.Context(), &boothv1.GetGateRequest{BoothId: "booth-1"})
	if err != nil {
		h.t.Fatal(err)
	}
	return r.GetGate()
}

// permits lists what the journal holds about permits: issued, revoked with
// its reasons, in order.
func (h *house) permits() []string {
	var out []string
	h.Writer.View(func(seq uint64) {
		for n := uint64(1); n <= seq; n++ {
			ev, _, _ := h.Floor.Event(n)
			switch b := ev.Body.(type) {
			case *boothv1.PermitIssued:
				out = append(out, "issued")
				if b.GetOverride() {
					out[len(out)-1] = "override"
				}
			case *boothv1.PermitRevoked:
				var rs []string
				for _, r := range b.GetReasons() {
					name, _, _ := strings.Cut(r, " ")
					rs = append(rs, name)
				}
				out = append(out, "revoked "+strings.Join(slices.Compact(rs), ","))
			}
		}
	})
	return out
}

func (h *house) ctx() context.Context { return h.t.Context() }

// serve puts a gate of another process behind a server of its own.
func (h *house) serve(d *record.Desk, g *booth.Gate) boothv1.BoothServiceClient {
	h.t.Helper()
	people, err := access.Load(peopleFile)
	if err != nil {
		h.t.Fatal(err)
	}
	return boothv1.NewBoothServiceClient(h.Serve(h.t, booth.NewServer(d, g, people).Register))
}
