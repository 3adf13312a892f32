package app_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/access"
	"seamwright/services/app"
	"seamwright/services/clock"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/floor/floortest"
)

// TestScenarios plays every scenario through the real services: the embedded
// server, the journal on JetStream, the keeper, the gate, gRPC with its
// interceptors. What comes out is what the bare floor says.
func TestScenarios(t *testing.T) {
	files, err := filepath.Glob("../../testdata/scenarios/*.txt")
	if err != nil || len(files) < 20 {
		t.Fatalf("%d scenarios (%v), want at least 20", len(files), err)
	}
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) {
			floortest.Run(t, file, func(at time.Time) (floortest.Shop, error) { return openReal(t, at), nil })
		})
	}
}

const foremansPIN = "2468"

// realShop is a shop of real services in driven time.
type realShop struct {
	t         *testing.T
	app       *app.App
	clock     *clock.Driven
	heard     map[string]time.Time
	jobs      jobsv1.JobsServiceClient
	materials materialsv1.MaterialsServiceClient
	cures     curesv1.CuresServiceClient
	booth     boothv1.BoothServiceClient
}

func openReal(t *testing.T, at time.Time) *realShop {
	t.Helper()
	dir := t.TempDir()
	pin, err := access.HashPIN(foremansPIN)
	if err != nil {
		t.Fatal(err)
	}
	people := fmt.Sprintf("people:\n  - {name: Frank, role: foreman, pin_hash: %q}\n  - {name: Petra, role: painter, pin_hash: %q}\n", pin, pin)
	if err := os.WriteFile(app.PeopleFile(dir), []byte(people), 0o600); err != nil {
		t.Fatal(err)
	}
	s := &realShop{t: t, clock: clock.NewDriven(at), heard: map[string]time.Time{}}
	s.app = start(t, app.Options{Dir: dir, Clock: s.clock})
	t.Cleanup(func() { described(t, s.app) })
	c, err := s.app.Dial()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	s.jobs, s.materials = jobsv1.NewJobsServiceClient(c), materialsv1.NewMaterialsServiceClient(c)
	s.cures, s.booth = curesv1.NewCuresServiceClient(c), boothv1.NewBoothServiceClient(c)
	return s
}

func (s *realShop) Now() time.Time { return s.clock.Now() }

func (s *realShop) Advance(to time.Time) error { return s.app.AdvanceTo(s.t.Context(), to) }

func (s *realShop) Look(fn func(*floor.Floor)) {
	s.app.Desk().Writer.View(func(uint64) { fn(s.app.Desk().Floor) })
}

func (s *realShop) Hear(terminal string) error {
	s.heard[terminal] = s.Now()
	_, err := s.booth.Hear(s.t.Context(), &boothv1.HearRequest{Terminal: terminal})
	return err
}

// Tell finds the service that takes the fact, and lets the shop come to rest.
func (s *realShop) Tell(c floor.Command) (*floorv1.Receipt, error) {
	r, err := s.record(s.t.Context(), c)
	if err != nil {
		return nil, err
	}
	return r, s.Advance(s.Now())
}

func (s *realShop) record(ctx context.Context, c floor.Command) (*floorv1.Receipt, error) {
	if req := (&jobsv1.RecordRequest{}); put(req, c) {
		r, err := s.jobs.Record(ctx, req)
		return r.GetReceipt(), err
	}
	if req := (&materialsv1.RecordRequest{}); put(req, c) {
		r, err := s.materials.Record(ctx, req)
		return r.GetReceipt(), err
	}
	if req := (&curesv1.RecordRequest{}); put(req, c) {
		r, err := s.cures.Record(ctx, req)
		return r.GetReceipt(), err
	}
	req := &boothv1.RecordRequest{}
	if !put(req, c) {
		return nil, fault.Bad("fact", c.Body.ProtoReflect().Descriptor().FullName(), "a fact that some service takes")
	}
	r, err := s.booth.Record(ctx, req)
	return r.GetReceipt(), err
}

// put sets stamp and fact of a request, if its oneof has a place for it.
func put(req proto.Message, c floor.Command) bool {
	m := req.ProtoReflect()
	fields := m.Descriptor().Oneofs().ByName("fact").Fields()
	for i := range fields.Len() {
		if f := fields.Get(i); f.Message() == c.Body.ProtoReflect().Descriptor() {
			m.Set(f, protoreflect.ValueOfMessage(c.Body.ProtoReflect()))
			m.Set(m.Descriptor().Fields().ByName("stamp"), protoreflect.ValueOfMessage(c.Stamp.ProtoReflect()))
			return true
		}
	}
	return false
}

// Gate asks the floor with the terminals that the gate heard: what a booth's
// screen shows is about its next load only, a scenario may ask about any.
func (s *realShop) Gate(load floor.LoadID, untouched bool) (r floor.Ruling, err error) {
	live := floor.Live{Health: s.app.Desk().Writer.Healthy(), Heard: s.heard, Untouched: untouched}
	s.Look(func(f *floor.Floor) { r = f.Gate(load, s.Now(), live) })
	return r, nil
}

func (s *realShop) Permit(st *floorv1.Stamp, load floor.LoadID, untouched bool) (floor.Ruling, error) {
	before, _ := s.Gate(load, untouched)
	resp, err := s.booth.RequestPermit(s.t.Context(), &boothv1.RequestPermitRequest{
		Stamp: st, BoothId: string(s.boothOf(load)), LoadId: string(load), Untouched: untouched,
	})
	if err != nil {
		return floor.Ruling{}, err
	}
	if before.Clear() != (resp.GetPermit() != nil) || len(before.Reasons) != len(resp.GetReasons()) {
		s.t.Errorf("load %s: the floor gives %d reasons, the booth service %d", load, len(before.Reasons), len(resp.GetReasons()))
	}
	return before, s.Advance(s.Now())
}

func (s *realShop) Override(st *floorv1.Stamp, load floor.LoadID, reason string, minutes float64) (floor.Ruling, error) {
	before, _ := s.Gate(load, false)
	_, err := s.booth.Override(s.t.Context(), &boothv1.OverrideRequest{
		Stamp: st, BoothId: string(s.boothOf(load)), LoadId: string(load), Pin: foremansPIN, Reason: reason, Minutes: minutes,
	})
	if err != nil {
		return floor.Ruling{}, err
	}
	return before, s.Advance(s.Now())
}

func (s *realShop) Return(st *floorv1.Stamp, load floor.LoadID) error {
	var id string
	s.Look(func(f *floor.Floor) {
		for _, b := range f.Booths() {
			if p := f.Permit(b); p != nil && p.Load == load {
				id = p.ID
			}
		}
	})
	_, err := s.booth.ReturnPermit(s.t.Context(), &boothv1.ReturnPermitRequest{Stamp: st, PermitId: id})
	return err
}

func (s *realShop) boothOf(load floor.LoadID) (b floor.BoothID) {
	s.Look(func(f *floor.Floor) {
		if l := f.Load(load); l != nil {
			b = l.Booth
		}
	})
	return b
}
