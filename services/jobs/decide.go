// Package jobs is the service of the repair: it records what was surveyed,
// planned, prepped, laid, coated and tested, and shows the floor.
package jobs

import (
	"fmt"
	"time"

	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// Decide makes the event of a fact of this service. It refuses what no fact
// can be; what is wrong about a fact that happened stands in the event's
// assessment.
func Decide(f *floor.Floor, c floor.Command, at time.Time) (floor.Event, error) {
	if err := check(c); err != nil {
		return floor.Event{}, err
	}
	return f.Decide(c, at)
}

// check is what is particular to the facts of this service.
func check(c floor.Command) error {
	switch b := c.Body.(type) {
	case *jobsv1.CoatApplied:
		return checkCoat(b)
	case *jobsv1.BeadLaid:
		return checkVolume("bead_laid", b.VolumeMl)
	case *jobsv1.RunLaid:
		return checkRun(b)
	case *jobsv1.FactCorrected:
		return checkCorrection(b)
	case *jobsv1.JobOpened, *jobsv1.JobDelivered, *jobsv1.JobCancelled,
		*jobsv1.SeamSurveyed, *jobsv1.SeamPlanned, *jobsv1.ProcedureRecorded,
		*jobsv1.PanelMoved, *jobsv1.CarMoved, *jobsv1.SurfacePrepped,
		*jobsv1.BeadTooled, *jobsv1.BeadDeaired, *jobsv1.BeadDisturbed,
		*jobsv1.SeamScuffed, *jobsv1.HeatApplied, *jobsv1.WaxApplied, *jobsv1.WaterTested,
		*jobsv1.SeamInspected, *jobsv1.PhotoAttached, *jobsv1.SeamReworked, *jobsv1.DoneElsewhere,
		*jobsv1.FactWithdrawn, *jobsv1.FindingDisposed:
		return nil
	}
	return fault.Bad("fact", c.Body.ProtoReflect().Descriptor().FullName(), "a fact of a repair; tell others to the service that they belong to")
}

// checkCoat: a coat lies under or over the sealer.
func checkCoat(b *jobsv1.CoatApplied) error {
	switch b.GetLayer().(type) {
	case *jobsv1.CoatApplied_Under:
		if b.GetRecoatMin() != 0 && b.GetRecoatMin() < b.GetDryMin() {
			return fault.Bad("coat_applied.recoat_min", b.GetRecoatMin(), fmt.Sprintf("0 for no limit, or at least dry_min %g", b.GetDryMin()))
		}
		return nil
	case *jobsv1.CoatApplied_Over:
		if b.GetDryMin() != 0 || b.GetRecoatMin() != 0 {
			return fault.Bad("coat_applied.dry_min", fmt.Sprintf("%g and %g", b.GetDryMin(), b.GetRecoatMin()),
				"0: dry and recoat times belong to an undercoat")
		}
		return nil
	}
	return fault.Bad("coat_applied.layer", "nothing", "say under, with the substrate that the coat makes, or over, with the kind of coat")
}

// checkVolume: a bead of nothing was not laid. Not told, it is the planned
// volume.
func checkVolume(at string, ml *float64) error {
	if ml != nil && *ml == 0 {
		return fault.Bad(at+".volume_ml", *ml, "above 0: a bead has a volume; leave it out to take the planned one")
	}
	return nil
}

// checkRun: the passes stand in the order in which they were laid, with one
// hand, so that one ends before the next begins.
func checkRun(b *jobsv1.RunLaid) error {
	for i, p := range b.GetPasses() {
		if err := checkVolume(fmt.Sprintf("run_laid.passes[%d]", i), p.VolumeMl); err != nil {
			return err
		}
		ended, lasted := p.GetEndedBefore().AsDuration(), p.GetLasted().AsDuration()
		if i == len(b.GetPasses())-1 {
			if ended != 0 {
				return fault.Bad(fmt.Sprintf("run_laid.passes[%d].ended_before", i), ended, "0s: the run ended with its last pass")
			}
			continue
		}
		next := b.GetPasses()[i+1]
		if begun := next.GetEndedBefore().AsDuration() + next.GetLasted().AsDuration(); ended < begun {
			return fault.Bad(fmt.Sprintf("run_laid.passes[%d].ended_before", i), ended,
				fmt.Sprintf("at least %s, when the next pass began; give the passes in the order they were laid (this one took %s)", begun, lasted))
		}
	}
	return nil
}

// checkCorrection asks of a corrected body what is asked of a told one.
func checkCorrection(b *jobsv1.FactCorrected) error {
	if b.GetBody() == nil {
		return nil
	}
	m, err := b.GetBody().UnmarshalNew()
	if err != nil {
		return fault.Bad("fact_corrected.body", b.GetBody().GetTypeUrl(), "a message of the fact's own type")
	}
	switch m := m.(type) {
	case *jobsv1.CoatApplied:
		return checkCoat(m)
	case *jobsv1.BeadLaid:
		return checkVolume("bead_laid", m.VolumeMl)
	case *jobsv1.RunLaid:
		return checkRun(m)
	}
	return nil
}
