package console

import (
	"errors"
	"fmt"
	"strings"

	"seamwright/services/calc/bead"
	"seamwright/services/calc/spec"
	"seamwright/services/fault"
)

// takes reckons what a seam takes, as the plan of a shop does, or says why
// that is not known.
func (s *specSeam) takes(p spec.Plan) {
	var lacks []string
	for _, m := range []struct {
		name string
		mm   *float64
	}{{"width", s.WidthMM}, {"height", s.HeightMM}, {"length", s.LengthMM}} {
		if m.mm == nil {
			lacks = append(lacks, m.name)
		}
	}
	switch {
	case len(lacks) > 0:
		s.unknown = "the survey does not give the " + listing(lacks) + "; measure the factory's bead"
		return
	case p.Profile == "":
		s.unknown = "the profile is not settled"
		return
	}
	total, err := bead.SeamVolumeML(p.Profile, *s.WidthMM, *s.HeightMM, *s.LengthMM, p.Technique.WetBed())
	if err != nil {
		s.unknown = ofMeasure(err)
		return
	}
	s.VolumeML, s.BedML = &total, new(float64)
	if p.Technique.WetBed() {
		if *s.BedML, err = bead.BedML(*s.WidthMM, bead.BedMM, *s.LengthMM); err != nil {
			s.VolumeML, s.BedML, s.unknown = nil, nil, ofMeasure(err)
		}
	}
}

// listing writes words as people do: "width, height and length".
func listing(words []string) string {
	last := len(words) - 1
	if last < 1 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:last], ", ") + " and " + words[last]
}

// ofMeasure says an error about a measure in mm in a person's words.
func ofMeasure(err error) string {
	e, ok := errors.AsType[*fault.Error](err)
	if !ok || len(e.Fields) != 1 || !strings.HasSuffix(e.Fields[0].Path, "_mm") {
		return err.Error()
	}
	f := e.Fields[0]
	return "a " + strings.TrimSuffix(f.Path, "_mm") + " of " + f.Value + " mm is not possible, it is " + f.Limit
}

func (a specAnswer) Lines() []string {
	if len(a.Seams) == 0 {
		return []string{"no seams in " + show(a.survey) + ": it has a header and no row below it"}
	}
	var out []string
	for _, s := range a.Seams {
		out = append(out, fmt.Sprintf("%s/%s  %s", s.RO, s.Seam, strings.TrimSpace(s.Place+" "+s.Side)))
		out = append(out, "  lay       "+strings.Join(said(s.Product, s.Class, s.Profile, s.Technique), ", "))
		out = append(out, "  bead      "+s.measures(), "  volume    "+s.volume(), "  nozzle    "+s.tip())
		if len(s.Layers) > 1 {
			out = append(out, "  layers    "+strings.Join(s.Layers, ", then "))
		}
		for _, u := range s.Undecided {
			out = append(out, "  decide    "+u)
		}
		for _, w := range s.Warnings {
			out = append(out, fmt.Sprintf("  %-9s %s (%s)", w.Severity, w.Reason, w.Basis))
		}
		for _, r := range s.Reasons {
			out = append(out, fmt.Sprintf("  because   %s (%s)", r.Text, r.Basis))
		}
		for _, c := range s.Cautions {
			out = append(out, "  caution   "+c)
		}
	}
	return out
}

// measures says how wide, high and long the bead is, as far as the survey does.
func (s specSeam) measures() string {
	var out []string
	switch {
	case s.WidthMM != nil && s.HeightMM != nil:
		out = append(out, across(*s.WidthMM, *s.HeightMM))
	case s.WidthMM != nil:
		out = append(out, long(*s.WidthMM)+" wide, height unknown")
	case s.HeightMM != nil:
		out = append(out, long(*s.HeightMM)+" high, width unknown")
	default:
		out = append(out, "width and height unknown")
	}
	if s.LengthMM == nil {
		return out[0] + ", length unknown"
	}
	return out[0] + ", " + long(*s.LengthMM) + " long"
}

func (s specSeam) volume() string {
	switch {
	case s.VolumeML == nil:
		return "unknown: " + s.unknown
	case *s.BedML > 0:
		return both(*s.VolumeML) + ", of it the wet bed " + both(*s.BedML)
	}
	return both(*s.VolumeML)
}

// tip names the nozzle and how it is cut. A spreader that cannot be cut so is
// said right there and not in a note alone.
func (s specSeam) tip() string {
	out := strings.Join(said(s.nozzle.String()), ", ")
	cut := s.nozzle.CutMM
	if !(cut > 0) || s.nozzle.Kind == spec.GuidedStep {
		return out
	}
	out = strings.TrimSuffix(out, " mm") + " mm (" + inches(cut) + ")"
	if s.nozzle.Kind == spec.Spreader && (cut < spec.MinRibbonMM || cut > spec.MaxRibbonMM) {
		out += fmt.Sprintf(", which it cannot be: spreaders are cut to %g to %g mm (%s to %s); lay it in passes or with another tip",
			spec.MinRibbonMM, spec.MaxRibbonMM, inches(spec.MinRibbonMM), inches(spec.MaxRibbonMM))
	}
	return out
}

// said drops what was not settled; nothing at all is said so.
func said(words ...string) []string {
	var out []string
	for _, w := range words {
		if w != "" {
			out = append(out, w)
		}
	}
	if out == nil {
		return []string{"not settled"}
	}
	return out
}
