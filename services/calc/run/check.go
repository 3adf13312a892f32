package run

import (
	"fmt"
	"time"

	"seamwright/services/calc/bead"
	"seamwright/services/calc/quantity"
	"seamwright/services/calc/spec"
	"seamwright/services/fault"
)

// What an input may be at most.
const (
	maxStock  = 10_000         // lots, opened cartridges, products
	maxLay    = 24 * time.Hour // laying, changes, walks
	maxML     = 1e6            // of one seam
	maxCutMM  = bead.MaxWidthMM
	maxOnHand = 1_000_000
)

// Validate names the first thing that is ill-formed: an identifier that is
// missing or there twice, a value out of range. What cannot be laid is not an
// error: the run tells it.
func (p Problem) Validate() error {
	if p.Start.IsZero() {
		return fault.Bad("start", "missing", "the moment that the run begins; give it")
	}
	if len(p.Seams) > MaxSeams {
		return fault.Bad("seams", len(p.Seams), fmt.Sprintf("at most %d in one run; plan one car at a time", MaxSeams))
	}
	err := first(fewEnough("products", len(p.Products)), fewEnough("lots", len(p.Lots)), fewEnough("opened", len(p.Opened)), p.Times.validate())
	if err != nil {
		return err
	}
	ids := map[string]bool{}
	for i, s := range p.Seams {
		if err := first(fresh(ids, "seams", i, s.ID), s.validate(fmt.Sprintf("seams[%d].", i))); err != nil {
			return err
		}
	}
	clear(ids)
	for i, x := range p.Products {
		if err := first(fresh(ids, "products", i, x.ID), x.validate(fmt.Sprintf("products[%d].", i))); err != nil {
			return err
		}
	}
	return p.validateStock()
}

func (p Problem) validateStock() error {
	ids := map[string]bool{}
	for i, l := range p.Lots {
		at := fmt.Sprintf("lots[%d].", i)
		err := first(
			fresh(ids, "lots", i, l.ID), need(at+"product", l.ProductID),
			volume(at+"cartridge_ml", l.Cartridge, 0, bead.MaxCartridgeML), whole(at+"shelf", l.Shelf),
		)
		if err != nil {
			return err
		}
	}
	clear(ids)
	for i, c := range p.Opened {
		at := fmt.Sprintf("opened[%d].", i)
		err := first(
			fresh(ids, "opened", i, c.ID), need(at+"product", c.ProductID),
			volume(at+"left_ml", c.Left, -bead.MaxCartridgeML, bead.MaxCartridgeML), checkTip(at+"nozzle.", c.Nozzle.Tip),
		)
		if err != nil {
			return err
		}
	}
	return nil
}

func (t Times) validate() error {
	for _, x := range []struct {
		field string
		d     time.Duration
	}{{"take", t.Take}, {"open", t.Open}, {"fit", t.Fit}, {"cut", t.Cut}, {"walk_panel", t.WalkPanel}, {"walk_car", t.WalkCar}} {
		if x.d < 0 || x.d > maxLay {
			return fault.Bad("times."+x.field, x.d, "from 0 to 24 h; correct it")
		}
	}
	if t.WalkCar < t.WalkPanel {
		return fault.Bad("times.walk_car", t.WalkCar, fmt.Sprintf("at least the walk to another panel, %s; correct it", t.WalkPanel))
	}
	return nil
}

func (s Seam) validate(at string) error {
	if s.Laying < 0 || s.Laying > maxLay {
		return fault.Bad(at+"laying", s.Laying, "from 0 to 24 h, 0 for not known; correct it")
	}
	return first(volume(at+"volume_ml", s.Volume, 0, maxML), checkTip(at+"tip.", s.Tip))
}

func (p Product) validate(at string) error {
	for _, x := range []struct {
		field string
		d     time.Duration
	}{{"gel", p.Gel}, {"tooling", p.Tooling}, {"opened_life", p.OpenedLife}} {
		if x.d < 0 {
			return fault.Bad(at+x.field, x.d, "0 or more, 0 for not known; correct the product")
		}
	}
	if w := p.Losses.WastePercent; !(w >= 0 && w <= 1000) {
		return fault.Bad(at+"waste_percent", w, "from 0 to 1000 %; correct it")
	}
	return first(
		volume(at+"purge_ml", quantity.Volume(p.Losses.PurgeML), 0, 1000),
		volume(at+"hold_up_ml", quantity.Volume(p.Losses.HoldUpML), 0, 1000),
		volume(at+"equalise_ml", p.Equalise, 0, 1000),
		volume(at+"cartridge_ml", p.Cartridge, 0, bead.MaxCartridgeML),
	)
}

func checkTip(at string, n spec.Nozzle) error {
	if n.Kind != "" && !spec.Known(n.Kind, spec.NozzleKinds()) {
		return fault.Bad(at+"kind", n.Kind, "round-tip, spreader, guided-step or none for not known")
	}
	if !(n.CutMM >= 0 && n.CutMM <= maxCutMM) {
		return fault.Bad(at+"cut_mm", n.CutMM, fmt.Sprintf("from 0 to %g mm, 0 for not known; measure again", maxCutMM))
	}
	return nil
}

func fewEnough(list string, n int) error {
	if n > maxStock {
		return fault.Bad(list, n, fmt.Sprintf("at most %d; leave out what the run cannot use", maxStock))
	}
	return nil
}

func fresh(ids map[string]bool, list string, i int, id string) error {
	at := fmt.Sprintf("%s[%d].id", list, i)
	if err := need(at, id); err != nil {
		return err
	}
	if ids[id] {
		return fault.Bad(at, id, "each only once; take the other out")
	}
	ids[id] = true
	return nil
}

func need(field, id string) error {
	if id == "" {
		return fault.Bad(field, "missing", "an identifier; give it")
	}
	return nil
}

func volume(field string, v quantity.Volume, least, most float64) error {
	if x := v.ML(); x >= least && x <= most {
		return nil
	}
	return fault.Bad(field, v.ML(), fmt.Sprintf("from %g to %g ml; correct it", least, most))
}

func whole(field string, n int) error {
	if n < 0 || n > maxOnHand {
		return fault.Bad(field, n, fmt.Sprintf("from 0 to %d; count again", maxOnHand))
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
