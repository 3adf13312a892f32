package console

import (
	"errors"
	"fmt"
	"strconv"

	"seamwright/services/calc/bead"
	"seamwright/services/calc/quantity"
	"seamwright/services/calc/spec"
	"seamwright/services/fault"
)

// Bead asks what a bead takes. Fields are as typed; only profile, width,
// height and length must be given, and the pitch of a ripple.
type Bead struct {
	Profile, WidthMM, HeightMM, LengthMM, PitchMM string

	Bed                                                   bool // a wet bed below it
	CartridgeML, PurgeML, HoldUpML, WastePercent, Nozzles string
}

type beadAnswer struct {
	AreaMM2    float64  `json:"area_mm2"`
	VolumeML   float64  `json:"volume_ml"` // of the bead alone
	BedML      float64  `json:"bed_ml"`
	WasteML    float64  `json:"waste_ml"`
	NozzlesML  float64  `json:"nozzles_ml"`
	TotalML    float64  `json:"total_ml"`
	Nozzles    *int     `json:"nozzles"` // null from here without a size of cartridge
	Cartridges *int     `json:"cartridges"`
	LeftML     *float64 `json:"left_ml"`
	YieldMM    *float64 `json:"yield_mm"`
	Notes      []string `json:"notes"`

	section bead.Section
	length  float64 // mm
	size    float64 // of a cartridge, ml
}

// Run answers.
func (q Bead) Run(o Out) error {
	s, length, err := q.section()
	if err != nil {
		return err
	}
	a := beadAnswer{Notes: []string{}, section: s, length: length}
	if a.AreaMM2, err = s.AreaMM2(); err != nil {
		return q.typed(err)
	}
	if !(a.AreaMM2 > 0) {
		return fault.Bad("--width-mm", show(q.WidthMM), "a width that with --height-mm "+show(q.HeightMM)+" gives a section of more than nothing; measure again")
	}
	if a.VolumeML, err = bead.VolumeML(a.AreaMM2, length); err != nil {
		return err
	}
	if q.Bed {
		if a.BedML, err = bead.BedML(s.WidthMM, bead.BedMM, length); err != nil {
			return err
		}
	}
	if err := q.need(&a); err != nil {
		return err
	}
	if note := bead.RibbonNote(s.Profile, s.WidthMM); note != "" {
		a.Notes = append(a.Notes, note)
	}
	return o.put(a)
}

// section reads the bead's measures.
func (q Bead) section() (s bead.Section, length float64, err error) {
	if s.Profile, err = word("--profile", q.Profile, spec.Profiles()); err != nil {
		return s, 0, err
	}
	for _, f := range []struct {
		flag, text string
		most       quantity.Length
		to         *float64
	}{
		{"--width-mm", q.WidthMM, bead.MaxWidthMM, &s.WidthMM},
		{"--height-mm", q.HeightMM, bead.MaxHeightMM, &s.HeightMM},
		{"--length-mm", q.LengthMM, bead.MaxLengthMM, &length},
		{"--pitch-mm", q.PitchMM, bead.MaxPitchMM, &s.PitchMM},
	} {
		pitch := f.flag == "--pitch-mm"
		if pitch && f.text == "" && s.Profile != spec.Ripple {
			continue
		}
		if pitch && f.text != "" && s.Profile != spec.Ripple {
			return s, 0, fault.Bad(f.flag, show(f.text), "only a ripple has a pitch; leave it out")
		}
		if *f.to, err = lengthMM(f.flag, f.text, quantity.Limits[quantity.Length]{Most: f.most, Above: true}); err != nil {
			return s, 0, err
		}
	}
	return s, length, nil
}

// need adds what is lost and the cartridges, where a size of cartridge is
// given.
func (q Bead) need(a *beadAnswer) error {
	a.TotalML = a.VolumeML + a.BedML
	if q.CartridgeML == "" {
		for _, f := range [][2]string{
			{"--purge-ml", q.PurgeML}, {"--hold-up-ml", q.HoldUpML}, {"--waste-percent", q.WastePercent}, {"--nozzles", q.Nozzles},
		} {
			if f[1] != "" {
				return missing("--cartridge-ml", "the size of a cartridge in ml, or with its unit, which "+f[0]+" needs")
			}
		}
		return nil
	}
	size, err := volumeML("--cartridge-ml", q.CartridgeML, quantity.Limits[quantity.Volume]{Most: bead.MaxCartridgeML, Above: true})
	if err != nil {
		return err
	}
	losses, nozzles, err := q.losses()
	if err != nil {
		return err
	}
	if each := losses.PurgeML + losses.HoldUpML; each >= size {
		return fault.Bad("--cartridge-ml", show(q.CartridgeML), fmt.Sprintf(
			"the cartridge must hold more than the %s that its nozzle alone takes, purge and hold-up together; give a larger cartridge, or a smaller --purge-ml or --hold-up-ml",
			both(each)))
	}
	n, err := bead.Estimate(a.TotalML, nozzles, losses, size)
	if err != nil {
		return q.tooMuch(err)
	}
	yield, err := bead.YieldMM(a.AreaMM2, size)
	if err != nil {
		return err
	}
	a.WasteML, a.NozzlesML, a.TotalML, a.size = n.WasteML, n.NozzlesML, n.TotalML, size
	a.Nozzles, a.Cartridges, a.LeftML, a.YieldMM = &n.Nozzles, &n.Cartridges, &n.LeftML, &yield
	return nil
}

// tooMuch says an error of the estimate by the flags: of more than can be
// reckoned with, the length is the likeliest slip.
func (q Bead) tooMuch(err error) error {
	if e, ok := errors.AsType[*fault.Error](err); ok && len(e.Fields) == 1 && e.Fields[0].Path == "laid_ml" {
		return fault.Bad("--length-mm", show(q.LengthMM), "a bead of "+e.Fields[0].Value+" ml is too much, it must come to "+e.Fields[0].Limit)
	}
	return q.typed(err)
}

// typed says an error of the reckoning by the flags, with what was typed.
func (q Bead) typed(err error) error {
	e, ok := errors.AsType[*fault.Error](err)
	if !ok || len(e.Fields) != 1 {
		return flagged(err)
	}
	f := e.Fields[0]
	text, known := map[string]string{
		"width_mm": q.WidthMM, "height_mm": q.HeightMM, "pitch_mm": q.PitchMM, "cartridge_ml": q.CartridgeML, "waste_percent": q.WastePercent,
	}[f.Path]
	if !known {
		return flagged(err)
	}
	return flagged(fault.Bad(f.Path, show(text), f.Limit))
}

func (q Bead) losses() (l bead.Losses, nozzles int, err error) {
	for _, f := range []struct {
		flag, text string
		to         *float64
	}{{"--purge-ml", q.PurgeML, &l.PurgeML}, {"--hold-up-ml", q.HoldUpML, &l.HoldUpML}} {
		if f.text == "" {
			continue
		}
		if *f.to, err = volumeML(f.flag, f.text, quantity.Limits[quantity.Volume]{Most: bead.MaxLossML}); err != nil {
			return l, 0, err
		}
	}
	waste, err := maybeNumber("--waste-percent", q.WastePercent, "a number of % from 0 to 1000")
	if err != nil {
		return l, 0, err
	}
	if waste != nil {
		l.WastePercent = *waste
	}
	if q.Nozzles == "" {
		return l, 1, nil
	}
	if nozzles, err = strconv.Atoi(q.Nozzles); err != nil {
		return l, 0, fault.Bad("--nozzles", show(q.Nozzles), "a whole number from 1")
	}
	return l, nozzles, nil
}

func (a beadAnswer) Lines() []string {
	out := []string{
		fmt.Sprintf("bead       %s, %s, %s long", a.section.Profile, across(a.section.WidthMM, a.section.HeightMM), long(a.length)),
		fmt.Sprintf("section    %s mm² (%s)", quantity.Round(a.AreaMM2, 2), quantity.Area(a.AreaMM2).Show(quantity.US)),
		"volume     " + both(a.VolumeML),
	}
	if a.BedML > 0 {
		out = append(out, fmt.Sprintf("wet bed    %s, %g mm thick", both(a.BedML), bead.BedMM))
	}
	if a.Cartridges != nil {
		left := "left in it"
		if *a.Cartridges > 1 {
			left = "left in all of them together"
		}
		out = append(out,
			"waste      "+both(a.WasteML),
			fmt.Sprintf("nozzles    %s, for purge and hold-up %s", counted(*a.Nozzles, "nozzle"), both(a.NozzlesML)),
			"in all     "+both(a.TotalML),
			fmt.Sprintf("to open    %s of %s, %s %s", counted(*a.Cartridges, "cartridge"), both(a.size), both(*a.LeftML), left),
			fmt.Sprintf("one gives  %s m (%s ft) of this bead when nothing is lost", quantity.Round(*a.YieldMM/1000, 1), quantity.Round(quantity.Length(*a.YieldMM).Ft(), 1)),
		)
	}
	for _, n := range a.Notes {
		out = append(out, "note       "+n)
	}
	return out
}
