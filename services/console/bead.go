package console

import (
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
}

// Run answers.
func (q Bead) Run(o Out) error {
	s, length, err := q.section()
	if err != nil {
		return err
	}
	a := beadAnswer{Notes: []string{}}
	if a.AreaMM2, err = s.AreaMM2(); err != nil {
		return err
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
		most       float64
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
		want := fmt.Sprintf("a number above 0 to %g mm", f.most)
		x, err := number(f.flag, f.text, want)
		if err != nil {
			return s, 0, err
		}
		if !(x > 0 && x <= f.most) {
			return s, 0, fault.Bad(f.flag, show(f.text), want)
		}
		*f.to = x
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
				return missing("--cartridge-ml", "the size of a cartridge in ml, which "+f[0]+" needs")
			}
		}
		return nil
	}
	size, err := number("--cartridge-ml", q.CartridgeML, "a number of ml above 0")
	if err != nil {
		return err
	}
	losses, nozzles, err := q.losses()
	if err != nil {
		return err
	}
	n, err := bead.Estimate(a.TotalML, nozzles, losses, size)
	if err != nil {
		return err
	}
	yield, err := bead.YieldMM(a.AreaMM2, size)
	if err != nil {
		return err
	}
	a.WasteML, a.NozzlesML, a.TotalML = n.WasteML, n.NozzlesML, n.TotalML
	a.Nozzles, a.Cartridges, a.LeftML, a.YieldMM = &n.Nozzles, &n.Cartridges, &n.LeftML, &yield
	return nil
}

func (q Bead) losses() (l bead.Losses, nozzles int, err error) {
	for _, f := range []struct {
		flag, text, want string
		to               *float64
	}{
		{"--purge-ml", q.PurgeML, "a number of ml from 0", &l.PurgeML},
		{"--hold-up-ml", q.HoldUpML, "a number of ml from 0", &l.HoldUpML},
		{"--waste-percent", q.WastePercent, "a number of % from 0", &l.WastePercent},
	} {
		x, err := maybeNumber(f.flag, f.text, f.want)
		if err != nil {
			return l, 0, err
		}
		if x != nil {
			*f.to = *x
		}
	}
	if q.Nozzles == "" {
		return l, 1, nil
	}
	if nozzles, err = strconv.Atoi(q.Nozzles); err != nil {
		return l, 0, fault.Bad("--nozzles", show(q.Nozzles), "a whole number from 1")
	}
	return l, nozzles, nil
}

// both writes a volume in both systems of units.
func both(ml float64) string {
	v := quantity.Volume(ml)
	return v.Show(quantity.Metric) + " (" + v.Show(quantity.US) + ")"
}

func (a beadAnswer) Lines() []string {
	out := []string{"section    " + quantity.Round(a.AreaMM2, 2) + " mm²", "volume     " + both(a.VolumeML)}
	if a.BedML > 0 {
		out = append(out, fmt.Sprintf("wet bed    %s, %g mm thick", both(a.BedML), bead.BedMM))
	}
	if a.Cartridges != nil {
		out = append(out,
			"waste      "+both(a.WasteML),
			fmt.Sprintf("nozzles    %d, they take %s", *a.Nozzles, both(a.NozzlesML)),
			"in all     "+both(a.TotalML),
			fmt.Sprintf("cartridges %d, %s left", *a.Cartridges, quantity.Volume(*a.LeftML).Show(quantity.Metric)),
			"one gives  "+quantity.Round(*a.YieldMM/1000, 1)+" m of this bead when nothing is lost",
		)
	}
	for _, n := range a.Notes {
		out = append(out, "note       "+n)
	}
	return out
}
