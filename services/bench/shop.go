package bench

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/app"
	"seamwright/services/booth"
	"seamwright/services/cures"
	"seamwright/services/floor"
	"seamwright/services/jobs"
	"seamwright/services/journal"
	"seamwright/services/materials"
	"seamwright/services/record"
	"seamwright/services/rpc"
)

// shop is a real shop in a folder, with its services on the loopback address.
type shop struct {
	app   *app.App
	conns []*grpc.ClientConn
	told  int
}

// boothID is the one booth of the shops that are measured.
const boothID = "booth-1"

// newShop opens a shop and gives it a bay, a booth and some cars in work, so
// that what every fact sets going has something to look at.
func newShop(ctx context.Context, r *rig, name string, screens bool) (_ *shop, err error) {
	o := app.Options{Dir: filepath.Join(r.dir, name), GRPC: "127.0.0.1:0", Log: r.log}
	if screens {
		o.Screens = "127.0.0.1:0"
	}
	s := &shop{}
	if s.app, err = app.New(o); err != nil {
		return nil, err
	}
	if err = s.app.Start(ctx); err != nil {
		return nil, err
	}
	if err = s.furnish(ctx); err != nil {
		return nil, errors.Join(err, s.stop())
	}
	return s, nil
}

// cars is how many cars are in work, with so many seams each.
const cars, carSeams = 5, 8

func (s *shop) furnish(ctx context.Context) error {
	for i, id := range []string{"bay-1", "booth-1"} {
		z := &curesv1.ZoneDefined{
			ZoneId: id, LimitLowC: 5, LimitHighC: 35, ProbeErrorC: 0.5, DriftCPerMin: 0.2, Works: i == 0,
			StaleAfter: durationpb.New(15 * time.Minute), Settling: durationpb.New(30 * time.Minute),
		}
		if err := s.tell(ctx, cures.Decide, z, &curesv1.ReadingTaken{ZoneId: id, ProbeId: "probe", TempC: 20}); err != nil {
			return err
		}
	}
	if err := s.tell(ctx, booth.Decide, &boothv1.BoothDefined{BoothId: boothID, ZoneId: "booth-1", FirstCoatMin: 20, ProcessMin: 60}); err != nil {
		return err
	}
	for _, c := range []floorv1.SealerClass{
		floorv1.SealerClass_SEALER_CLASS_SELF_LEVELLING, floorv1.SealerClass_SEALER_CLASS_MEDIUM_BODIED, floorv1.SealerClass_SEALER_CLASS_HEAVY_BODIED,
	} {
		if err := s.tell(ctx, materials.Decide, product(c)); err != nil {
			return err
		}
	}
	for i := range cars {
		t := newTeller("car", i)
		for range 1 + carSeams {
			if err := s.tell(ctx, jobs.Decide, t.next()); err != nil {
				return err
			}
		}
	}
	return nil
}

// product is one of a class, with the times of the invented shop's.
func product(c floorv1.SealerClass) *materialsv1.ProductDefined {
	p := &materialsv1.ProductDefined{
		ProductId: "product-" + fmt.Sprint(int(c)), Name: "Grey", Class: c, Colour: "grey", CartridgeMl: 200,
		Cure: &materialsv1.Cure{
			ReferenceTempC: 21, ActivationLowKjMol: 52, ActivationNominalKjMol: 52, ActivationHighKjMol: 52, TolerancePercent: 10,
			NozzleGelMin: proto.Float64(8), ToolingMin: proto.Float64(12), HandlingMin: proto.Float64(45), FullCureMin: proto.Float64(1440),
			Over: []*materialsv1.Cure_Window{{Coat: floorv1.Coat_COAT_WATERBORNE, OpensMin: 60, ClosesMin: 2880}},
		},
	}
	if c == floorv1.SealerClass_SEALER_CLASS_SELF_LEVELLING {
		p.Cure.FlowOutMin = proto.Float64(15)
	}
	return p
}

// tell records facts at the shop's desk.
func (s *shop) tell(ctx context.Context, decide record.Decide, facts ...proto.Message) error {
	for _, f := range facts {
		s.told++
		c := floor.Command{Stamp: foreman(fmt.Sprintf("furnish-%06d", s.told)), Body: f}
		if _, err := s.app.Desk().Record(ctx, c, decide); err != nil {
			return err
		}
	}
	return nil
}

// dial makes a connection of its own to the shop.
func (s *shop) dial() (*grpc.ClientConn, error) {
	c, err := rpc.Dial(s.app.Addr().GRPC)
	if err == nil {
		s.conns = append(s.conns, c)
	}
	return c, err
}

func (s *shop) stop() error {
	for _, c := range s.conns {
		_ = c.Close()
	}
	return s.app.Stop()
}

func stamp(terminal, command string) *floorv1.Stamp {
	return &floorv1.Stamp{
		CommandId: command, Actor: "Bryn Ollerquist", Role: floorv1.Role_ROLE_TECHNICIAN, Terminal: terminal,
		Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
	}
}

// foreman is the stamp of what only a foreman can tell.
func foreman(command string) *floorv1.Stamp {
	s := stamp("desk", command)
	s.Actor, s.Role = "Ansa Vellacorn", floorv1.Role_ROLE_FOREMAN
	return s
}

// teller makes up what one terminal tells: it opens a job, surveys its seams
// one after the other, and goes on to the next job.
type teller struct {
	terminal string
	job      int
	told     int
	seam     int
}

// jobSeams is how many seams a job has: a car after a collision at the front.
const jobSeams = 40

func newTeller(kind string, n int) *teller {
	return &teller{terminal: fmt.Sprintf("%s-%d", kind, n), seam: jobSeams}
}

// next is the terminal's next fact.
func (t *teller) next() proto.Message {
	if t.seam == jobSeams {
		t.job++
		t.seam = 0
		return &jobsv1.JobOpened{Ro: t.ro(), Vehicle: "blue hatchback", PaintColour: "blue", Coats: []floorv1.Coat{floorv1.Coat_COAT_WATERBORNE}}
	}
	t.seam++
	return &jobsv1.SeamSurveyed{
		SeamId: fmt.Sprintf("%s/s%d", t.ro(), t.seam), Panel: "door-l", Place: "hem flange", Side: "L", LengthMm: 640,
		Finish: floorv1.Finish_FINISH_COATED, Orientation: floorv1.Orientation_ORIENTATION_LEVEL, Substrate: floorv1.Substrate_SUBSTRATE_E_COAT,
		Reference: &floorv1.Reference{
			Source: floorv1.ReferenceSource_REFERENCE_SOURCE_BEFORE_TEAR_DOWN, Class: floorv1.SealerClass_SEALER_CLASS_MEDIUM_BODIED,
			Profile: floorv1.Profile_PROFILE_ROUND, Colour: "grey", WidthMm: 8, HeightMm: 3,
		},
	}
}

func (t *teller) ro() string { return fmt.Sprintf("%s-%d", t.terminal, t.job) }

// command gives a fact the terminal's stamp, with an id of its own.
func (t *teller) command(fact proto.Message) floor.Command {
	t.told++
	return floor.Command{Stamp: stamp(t.terminal, fmt.Sprintf("%s-command-%06d", t.terminal, t.told)), Body: fact}
}

// request is a command as it goes over the wire.
func request(c floor.Command) *jobsv1.RecordRequest {
	r := &jobsv1.RecordRequest{Stamp: c.Stamp}
	switch b := c.Body.(type) {
	case *jobsv1.JobOpened:
		r.Fact = &jobsv1.RecordRequest_JobOpened{JobOpened: b}
	case *jobsv1.SeamSurveyed:
		r.Fact = &jobsv1.RecordRequest_SeamSurveyed{SeamSurveyed: b}
	}
	return r
}

// sample is the record of a surveyed seam, as the journal stores it.
func sample() (journal.Record, error) {
	t, f := newTeller("tablet", 1), floor.New()
	var r journal.Record
	for range 2 {
		ev, err := jobs.Decide(f, t.command(t.next()), time.Date(2026, 3, 2, 7, 30, 0, 0, time.UTC))
		if err != nil {
			return r, err
		}
		if r, err = journal.Encode(ev); err != nil {
			return r, err
		}
		ev.Seq = f.Seq() + 1
		if err := f.Apply(ev); err != nil {
			return r, err
		}
	}
	r.Source = journal.Source(bareShop)
	return r, nil
}
