package bead

import "seamwright/services/calc/spec"

// BedMM is how thick a wet bed is spread under a bead, as wide as the bead.
// Common practice, no source: just thick enough to wet both faces.
const BedMM = 1.0

// VolumeML is the volume in ml of a section of areaMM2 (above 0) along
// lengthMM (above 0).
func VolumeML(areaMM2, lengthMM float64) (float64, error) {
	if err := positive("area_mm2", areaMM2, MaxWidthMM*MaxHeightMM, "mm²"); err != nil {
		return 0, err
	}
	if err := positive("length_mm", lengthMM, MaxLengthMM, "mm"); err != nil {
		return 0, err
	}
	return areaMM2 * lengthMM / 1000, nil
}

// BedML is the volume in ml of a wet bed thicknessMM thick under a bead.
func BedML(widthMM, thicknessMM, lengthMM float64) (float64, error) {
	a, err := area(spec.Ribbon, widthMM, thicknessMM)
	if err != nil {
		return 0, err
	}
	return VolumeML(a, lengthMM)
}

// SeamVolumeML is the material in ml that a seam takes: the bead and, where
// asked for, a wet bed BedMM thick below it. A ripple is reckoned over whole
// pitches, so its pitch is not asked for. Nothing for nozzles and waste is in
// it: see Estimate. Errors as for Section.AreaMM2.
func SeamVolumeML(profile spec.Profile, widthMM, heightMM, lengthMM float64, bed bool) (float64, error) {
	a, err := area(profile, widthMM, heightMM)
	if err != nil {
		return 0, err
	}
	v, err := VolumeML(a, lengthMM)
	if err != nil || !bed {
		return v, err
	}
	under, err := BedML(widthMM, BedMM, lengthMM)
	return v + under, err
}

// YieldMM is how long a bead of that section one cartridge gives, in mm, when
// nothing of it is lost.
func YieldMM(areaMM2, cartridgeML float64) (float64, error) {
	if err := positive("area_mm2", areaMM2, MaxWidthMM*MaxHeightMM, "mm²"); err != nil {
		return 0, err
	}
	if err := positive("cartridge_ml", cartridgeML, MaxCartridgeML, "ml"); err != nil {
		return 0, err
	}
	return 1000 * cartridgeML / areaMM2, nil
}
