package floor

import (
	"time"

	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/calc/spec"
)

// laying is one layer of material on one seam, however it was told.
type laying struct {
	seam      SeamID
	pass      int // place within a run, from 0
	layer     spec.Layer
	technique spec.Technique // empty: as planned
	profile   spec.Profile   // empty: as planned
	cartridge CartridgeID    // empty: unknown
	nozzle    NozzleID       // empty: unknown
	volume    ul
	planned   bool // the volume is the planned one
	unknownML bool // neither told nor planned

	begun      time.Time // to the best of knowledge
	begunEarly time.Time // it surely did not begin before
	ended      time.Time
	endedLate  time.Time // it surely had ended by then
	surfaceC   *float64  // measured temperature of the surface
}

func (l *laying) span(f *fact, lasted time.Duration) {
	l.begun, l.begunEarly = f.at.Add(-lasted), f.early.Add(-lasted)
	l.ended, l.endedLate = f.at, f.late
}

func (l *laying) measure(told *float64, planned float64) {
	switch {
	case told != nil:
		l.volume = toUL(*told)
	case planned > 0:
		l.volume, l.planned = toUL(planned), true
	default:
		l.unknownML = true
	}
}

func layingOf(b *jobsv1.BeadLaid, f *fact) *laying {
	l := &laying{
		seam: SeamID(b.GetSeamId()), layer: spec.Layer(enumWord(b.GetLayer())),
		technique: spec.Technique(enumWord(b.GetTechnique())), profile: spec.Profile(enumWord(b.GetProfile())),
		cartridge: CartridgeID(b.GetCartridgeId()), nozzle: NozzleID(b.GetNozzleId()), surfaceC: b.SurfaceTempC,
	}
	l.span(f, b.GetLasted().AsDuration())
	l.measure(b.VolumeMl, b.GetPlannedMl())
	return l
}

func passOf(b *jobsv1.RunLaid, p *jobsv1.RunLaid_Pass, n int, f *fact) *laying {
	l := &laying{
		seam: SeamID(p.GetSeamId()), pass: n, layer: spec.Layer(enumWord(p.GetLayer())),
		technique: spec.Technique(enumWord(p.GetTechnique())), profile: spec.Profile(enumWord(p.GetProfile())),
		cartridge: CartridgeID(b.GetCartridgeId()), nozzle: NozzleID(b.GetNozzleId()),
	}
	l.span(f, p.GetLasted().AsDuration())
	l.measure(p.VolumeMl, p.GetPlannedMl())
	return l
}
