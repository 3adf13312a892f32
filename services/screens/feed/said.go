package feed

import (
	"fmt"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/calc/spec"
	"seamwright/services/floor"
)

// saidWords are the facts that can be told at a screen by the name of their
// message: a sentence, or a function that makes one.
var saidWords = map[string]any{
	"SeamPlanned": "Plan taken", "SurfacePrepped": "Prepped", "BeadTooled": saidTooled, "BeadDeaired": "Air taken out",
	"CoatApplied": saidCoat, "BeadLaid": saidLaid, "BeadDisturbed": "Bead disturbed", "SeamScuffed": "Scuffed",
	"HeatApplied": "Heat applied", "WaxApplied": "Wax is on", "WaterTested": saidTested, "SeamInspected": saidInspected,
	"SeamReworked": "Bead taken off", "CarMoved": saidMoved, "DoneElsewhere": "Work done elsewhere told", "FindingDisposed": saidDisposed,
	"FactWithdrawn": "Taken back", "FactCorrected": "Corrected", "CartridgeOpened": saidOpened, "CartridgeEqualised": "Both sides level", "NozzleFitted": saidFitted,
	"CartridgePurged": "Purged", "NozzleRemoved": "Nozzle off", "CartridgeStored": "Put away", "CartridgeWeighed": "What is left told",
	"CartridgeEmptied": "Cartridge done", "SprayStarted": saidSpray, "BoothPhaseChanged": saidPhase, "LoadFinished": saidFinished,
	"BoothFaulted": "Booth out of use", "BoothReset": "Booth back in use", "PermitIssued": "Permit given", "PermitRevoked": "Permit given back",
	"LoadPlanned": saidPlaced,
}

func saidTooled(ev floor.Event) string {
	how := ev.Body.(*jobsv1.BeadTooled).GetHow()
	if how == "" {
		how = "bead tooled"
	}
	return upper(how)
}

func saidCoat(ev floor.Event) string {
	b := ev.Body.(*jobsv1.CoatApplied)
	if b.GetOver() != floorv1.Coat_COAT_UNSPECIFIED {
		return fmt.Sprintf("%s over %s", upper(coated(spec.Coat(floor.Word(b.GetOver())))), count(len(b.GetSeamIds()), "seam"))
	}
	return "Undercoated with " + substrateWords(spec.Substrate(floor.Word(b.GetUnder())))
}

func saidLaid(ev floor.Event) string {
	if ev.Body.(*jobsv1.BeadLaid).GetLayer() == floorv1.Layer_LAYER_BED {
		return "Wet bed laid"
	}
	return "Bead laid"
}

func saidTested(ev floor.Event) string {
	if ev.Body.(*jobsv1.WaterTested).GetTight() {
		return "Water test passed"
	}
	return "Water came through"
}

func saidInspected(ev floor.Event) string {
	if ev.Body.(*jobsv1.SeamInspected).GetAccepted() {
		return "Accepted"
	}
	return "Not accepted"
}

func saidMoved(ev floor.Event) string {
	return "Car moved to " + placeName(ev.Body.(*jobsv1.CarMoved).GetZoneId())
}

func saidDisposed(ev floor.Event) string {
	return "Finding answered: " + floor.Word(ev.Body.(*jobsv1.FindingDisposed).GetDisposition())
}

func saidOpened(ev floor.Event) string {
	b := ev.Body.(*materialsv1.CartridgeOpened)
	return fmt.Sprintf("Cartridge %s of lot %s opened (write %s on it)", b.GetCartridgeId(), b.GetLotId(), b.GetCartridgeId())
}

func saidFitted(ev floor.Event) string {
	return "Nozzle fitted to cartridge " + ev.Body.(*materialsv1.NozzleFitted).GetCartridgeId()
}

func saidSpray(ev floor.Event) string {
	return "Spraying of " + ev.Body.(*boothv1.SprayStarted).GetLoadId() + " began"
}

func saidPhase(ev floor.Event) string {
	b := ev.Body.(*boothv1.BoothPhaseChanged)
	if c := b.GetColour(); c != "" {
		return "Setting up the gun to " + c + " began"
	}
	return "Booth " + phases[b.GetPhase()]
}

func saidFinished(ev floor.Event) string {
	return "Load " + ev.Body.(*boothv1.LoadFinished).GetLoadId() + " is out"
}
