package floor

import (
	"time"

	"seamwright/services/calc/spec"
)

// layOn folds a layer of material.
func (fl *Floor) layOn(b *book, s *Seam, f *fact) string {
	if s.coated {
		return "the seam is already coated; a new bead needs rework first"
	}
	l := f.lay
	if s.Bead == nil || s.Bead.Elsewhere {
		s.Bead = &Bead{SpentFrom: f.early}
	}
	s.elsewhere, s.tested, s.accepted = NoStage, false, false // what was done before lies under this layer
	d := s.Bead
	d.Began, d.Ended, d.By = f.seq, l.ended, f.head.Actor
	d.Layers = append(d.Layers, l.layer)
	d.ReadyFrom = later(d.ReadyFrom, l.endedLate)
	c := fl.cartridgeBefore(b, l.cartridge, f)
	if from := spentFrom(c, f); len(d.Layers) == 1 || from.Before(d.SpentFrom) {
		d.SpentFrom = from
	}
	if l.layer == spec.Bead || d.Product == nil {
		d.Product = fl.productOf(b, s, c, f)
	}
	if l.layer == spec.Bead && l.technique != "" {
		d.bedless = !l.technique.WetBed()
	}
	if l.surfaceC != nil {
		d.SurfaceC = l.surfaceC
	}
	d.Technique, d.Profile = pick(l.technique, s.planned().Technique), pick(l.profile, s.planned().Profile)
	d.Scuffed = nil
	s.readAnnouncements()
	return ""
}

// planned is the plan, or the zero plan.
func (s *Seam) planned() Plan {
	if s.Plan == nil {
		return Plan{}
	}
	return *s.Plan
}

// spentFrom is when what must not be passed began to count: the nozzle's
// previous flow or the begin of laying, whichever is earlier. c is the
// cartridge before the laying, or nil.
func spentFrom(c *Cartridge, f *fact) time.Time {
	from := f.lay.begunEarly
	if c != nil && c.Flowed() && c.LastFlow.Early.Before(from) {
		return c.LastFlow.Early
	}
	return from
}

// productOf is the product that a layer was laid with, in the revision in
// force then: by the cartridge's lot, else as planned; nil when unknown.
func (fl *Floor) productOf(b *book, s *Seam, c *Cartridge, f *fact) *Product {
	id := s.planned().Product
	if c != nil && c.Product != "" {
		id = c.Product
	}
	return fl.productAt(b, id, f.at)
}

func pick[W ~string](told, planned W) W {
	if told != "" {
		return told
	}
	return planned
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}
