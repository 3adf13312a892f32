package floor

import (
	"fmt"
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/fault"
)

func protoValue(a *floorv1.Assessment) protoreflect.Value {
	return protoreflect.ValueOfMessage(a.ProtoReflect())
}

// refer checks that the things a fact names exist. What cannot be placed is
// refused by name; what is merely odd (an unknown cartridge) is recorded with
// a finding.
func (fl *Floor) refer(ev *Event) error {
	switch b := ev.Body.(type) {
	case *jobsv1.JobOpened, *materialsv1.StockCounted, *materialsv1.LotRecalled, *materialsv1.NozzleRemoved:
		return nil
	case *jobsv1.SeamSurveyed:
		return fl.needJob(SeamID(b.GetSeamId()).RO())
	case *jobsv1.SeamPlanned:
		if fl.productAt(fl.book, ProductID(b.GetProductId()), ev.Occurred) == nil {
			return fault.Missing("product", b.GetProductId(), "define it or plan another one")
		}
		return fl.needSeams(b.GetSeamId())
	case *jobsv1.RunLaid:
		for _, p := range b.GetPasses() {
			if err := fl.needSeams(p.GetSeamId()); err != nil {
				return err
			}
		}
		return nil
	case *jobsv1.CarMoved:
		return first(fl.needJob(RO(b.GetRo())), fl.needZone(b.GetZoneId()))
	case *jobsv1.PanelMoved:
		return first(fl.needJob(RO(b.GetRo())), fl.needZone(b.GetZoneId()))
	case *jobsv1.FactWithdrawn:
		return fl.needFact(b.GetSequence(), nil)
	case *jobsv1.FactCorrected:
		return fl.needFact(b.GetSequence(), func(old Event) error {
			if b.GetBody() == nil && !b.GetRetime() {
				return fault.Bad("fact_corrected", "nothing", "give the right body, or say retime")
			}
			fixed, err := corrected(old, b, ev.Header)
			if err != nil {
				return err
			}
			if _, ok := fixed.Body.(*jobsv1.FactCorrected); ok {
				return fault.Bad("fact_corrected.sequence", b.GetSequence(), "a correction is not corrected; correct the fact again")
			}
			if same(old.Body, fixed.Body) {
				return fl.refer(&fixed)
			}
			return fault.Bad("fact_corrected.body", "another thing", "must be about the same thing; withdraw the fact and tell the right one")
		})
	case *jobsv1.FindingDisposed:
		return fl.needAnswer(b, ev)
	}
	return fl.referOthers(ev)
}

func (fl *Floor) referOthers(ev *Event) error {
	switch b := ev.Body.(type) {
	case *materialsv1.ProductDefined:
		_, err := ReadProduct(b)
		return err
	case *materialsv1.LotReceived:
		if fl.productAt(fl.book, ProductID(b.GetProductId()), ev.Occurred) == nil {
			return fault.Missing("product", b.GetProductId(), "define the product first")
		}
		return nil
	case *curesv1.ZoneDefined:
		return zoneFrom(b).Validate()
	case *curesv1.ReadingTaken:
		return first(fl.needZone(b.GetZoneId()), cure.Reading{At: ev.Occurred, C: b.GetTempC()}.Validate())
	case *boothv1.BoothDefined:
		for i, h := range b.GetOpen() {
			if !h.GetTo().AsTime().After(h.GetFrom().AsTime()) {
				return fault.Bad(fmt.Sprintf("booth_defined.open[%d]", i), h.GetTo().AsTime().Format("2006-01-02T15:04Z07:00"), "must end after it begins")
			}
		}
		return fl.needZone(b.GetZoneId())
	case *boothv1.LoadPlanned:
		return first(fl.needLoadParts(b), fl.needPlaceable(b, ev))
	case *boothv1.BoothPhaseChanged:
		if err := fl.needBooth(b.GetBoothId()); err != nil {
			return err
		}
		return fl.needSetUp(b)
	case interface {
		GetBoothId() string
		GetLoadId() string
	}:
		if fl.loads[LoadID(b.GetLoadId())] == nil {
			return fault.Missing("load", b.GetLoadId(), "plan the load first")
		}
		return fl.needBooth(b.GetBoothId())
	case interface{ GetBoothId() string }:
		return fl.needBooth(b.GetBoothId())
	case interface{ GetSeamIds() []string }:
		return fl.needSeams(b.GetSeamIds()...)
	case interface{ GetSeamId() string }:
		return fl.needSeams(b.GetSeamId())
	case interface{ GetRo() string }:
		return fl.needJob(RO(b.GetRo()))
	}
	return nil
}

func first(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

func (fl *Floor) needJob(ro RO) error {
	if fl.jobs[ro] == nil {
		return fault.Missing("job", string(ro), "open the job first, or correct the number")
	}
	return nil
}

func (fl *Floor) needSeams(ids ...string) error {
	for _, id := range ids {
		if fl.seams[SeamID(id)] == nil {
			return fault.Missing("seam", id, "survey it first, or pick one of job "+string(SeamID(id).RO()))
		}
	}
	return nil
}

func (fl *Floor) needZone(id string) error {
	if fl.zones[ZoneID(id)] == nil {
		return fault.Missing("zone", id, "define it first; known are "+orNone(sortedKeys(fl.zones)))
	}
	return nil
}

func (fl *Floor) needBooth(id string) error {
	if fl.booths[BoothID(id)] == nil {
		return fault.Missing("booth", id, "define it first; known are "+orNone(sortedKeys(fl.booths)))
	}
	return nil
}

func orNone[W ~string](ids []W) string {
	if len(ids) == 0 {
		return "none"
	}
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = string(id)
	}
	return strings.Join(out, ", ")
}

func (fl *Floor) needLoadParts(b *boothv1.LoadPlanned) error {
	if b.GetMoved() {
		return fault.Bad("load_planned.moved", true, "nothing: only the planner moves loads; to put this one somewhere, tell it with booth and start")
	}
	for _, also := range b.GetAlsoBoothIds() {
		if err := fl.needBooth(also); err != nil {
			return err
		}
	}
	if err := first(fl.needBooth(b.GetBoothId()), fl.needJob(RO(b.GetRo())), fl.needSeams(b.GetSeamIds()...)); err != nil {
		return err
	}
	for _, s := range b.GetSeamIds() {
		if SeamID(s).RO() != RO(b.GetRo()) {
			return fault.Bad("load_planned.seam_ids", s, "must belong to job "+b.GetRo()+"; a load is one job's")
		}
	}
	if old := fl.loads[LoadID(b.GetLoadId())]; old != nil && old.RO != "" && old.RO != RO(b.GetRo()) {
		return fault.New(fault.Exists, "load-taken", fmt.Sprintf("load %s belongs to job %s", b.GetLoadId(), old.RO), "give the load another name")
	}
	return nil
}

// needFact checks that a sequence names a fact that can be taken back.
func (fl *Floor) needFact(seq uint64, more func(Event) error) error {
	ev, counts, ok := fl.Event(seq)
	switch {
	case !ok:
		return fault.Missing("fact", fmt.Sprint(seq), fmt.Sprintf("the journal has 1 to %d", fl.seq))
	case !counts:
		return fault.New(fault.Refused, "already-withdrawn", fmt.Sprintf("fact %d was withdrawn before", seq), "tell what really happened as a new fact")
	case !retractable(ev):
		return fault.Bad("sequence", seq, "is no fact that can be taken back (it is "+string(ev.Body.ProtoReflect().Descriptor().Name())+"); tell what really happened as a new fact")
	}
	if more == nil {
		return nil
	}
	if d, ok := ev.Body.(*jobsv1.FindingDisposed); ok {
		return fault.Bad("sequence", seq, "is the answer to finding "+d.GetFindingId()+"; answer the finding again")
	}
	return more(ev)
}

// retractable: what people and probes tell may be taken back; what was
// decided, and taking back itself, may not.
func retractable(ev Event) bool {
	switch ev.Body.(type) {
	case *jobsv1.FactWithdrawn, *jobsv1.FactCorrected:
		return false
	}
	return assessable(ev.Body)
}

// same reports whether two bodies of one type are about the same things.
func same(a, b interface{ ProtoReflect() protoreflect.Message }) bool {
	for _, name := range []protoreflect.Name{"seam_id", "ro", "cartridge_id", "lot_id", "product_id", "zone_id", "booth_id", "load_id"} {
		f := a.ProtoReflect().Descriptor().Fields().ByName(name)
		if f == nil || name == "cartridge_id" && a.ProtoReflect().Descriptor().Fields().ByName("seam_id") != nil {
			continue
		}
		if name == "zone_id" && a.ProtoReflect().Descriptor().Fields().ByName("ro") != nil {
			continue // where to is what a move's correction corrects
		}
		if a.ProtoReflect().Get(f).String() != b.ProtoReflect().Get(f).String() {
			return false
		}
		return true
	}
	return true
}

// needAnswer checks that a finding can be answered by this actor.
func (fl *Floor) needAnswer(b *jobsv1.FindingDisposed, ev *Event) error {
	s, ok := fl.findings[FindingID(b.GetFindingId())]
	switch {
	case !ok:
		return fault.Missing("finding", b.GetFindingId(), "list the findings of the job")
	case s.Lapsed:
		return fault.New(fault.Refused, "finding-lapsed", fmt.Sprintf("finding %s no longer holds", s.ID), "there is nothing to answer")
	case ev.Role != Foreman:
		return fault.New(fault.Denied, "not-a-foreman", fmt.Sprintf("%s is a %s; finding %s is answered by a foreman", ev.Actor, ev.Role, s.ID), "ask a foreman")
	}
	return nil
}
