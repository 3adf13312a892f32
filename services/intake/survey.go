package intake

import (
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"seamwright/services/calc/spec"
	"seamwright/services/calc/vin"
)

// Job is one vehicle of a survey.
type Job struct {
	RO            string
	VIN           string   // upper case; empty: not recorded
	VINNotes      []string // what is odd about an accepted number
	Vehicle       string
	Coats         []spec.Coat // over the sealer, in order
	PaintColour   string
	Promised      time.Time // zero: nothing was promised
	Weight        float64   // 1 unless given
	AfterBoothMin float64   // 0 unless given
	Seams         []Seam    // in the order of the file
}

// Seam is one row of a survey. Zero and nil fields are unknown.
type Seam struct {
	ID              string // unique within its job
	Panel           string // panel that the seam goes with
	Place           string
	Side            string
	Orientation     spec.Orientation
	Finish          spec.Finish
	Substrate       spec.Substrate
	ReferenceSource spec.ReferenceSource
	Class           spec.Class
	Profile         spec.Profile
	Colour          string
	Lab             *spec.Lab
	WidthMM         *float64
	HeightMM        *float64
	LengthMM        *float64
	SheetMM         *float64 // thickness of the metal that the seam lies on
	Line            int      // where it stands in the file
}

// Hidden reports whether nobody has seen the factory's bead yet: the seam
// lies behind a panel until tear-down.
func (s Seam) Hidden() bool { return s.ReferenceSource == spec.NoReference }

// Spec is what the rules of what goes on a seam need to know of it; coats
// are its job's.
func (s Seam) Spec(coats []spec.Coat) spec.Seam {
	out := spec.Seam{
		Place: s.Place, Orientation: s.Orientation, Finish: s.Finish, Substrate: s.Substrate,
		Reference: spec.Reference{
			Source: s.ReferenceSource, Class: s.Class, Profile: s.Profile, Colour: s.Colour, Lab: s.Lab,
		},
	}
	if s.WidthMM != nil {
		out.Reference.WidthMM = *s.WidthMM
	}
	if s.HeightMM != nil {
		out.Reference.HeightMM = *s.HeightMM
	}
	if s.Finish == spec.Coated && len(coats) > 0 {
		out.FirstCoat = coats[0]
	}
	return out
}

var (
	surveyNeeded = []string{"ro", "vehicle", "seam", "panel", "place", "finish"}
	surveyMore   = []string{
		"vin", "coats", "paint_colour", "promised", "weight", "after_booth_min", "side", "orientation",
		"substrate", "reference_source", "class", "profile", "colour", "lab_l", "lab_a", "lab_b",
		"width_mm", "height_mm", "length_mm", "sheet_mm",
	}
)

// ReadSurvey reads a survey file (CSV), one row a seam. The columns of a
// job repeat on each of its rows and must agree. Required are ro, vehicle,
// seam, panel, place and finish; all else may be empty, which means
// unknown: an empty reference_source is read as none.
func ReadSurvey(name string, r io.Reader) ([]Job, error) {
	s := &sheet{name: name}
	data, err := s.slurp(r, MaxBytes)
	if err != nil {
		return nil, err
	}
	if data == nil {
		return nil, s.err()
	}
	t := s.table(data, MaxSeams, surveyNeeded, surveyMore)
	if t == nil {
		return nil, s.err()
	}
	jobs := []Job{}
	index := map[string]int{}
	seams := map[string]int{} // "ro/seam" to its line
	for t.next() {
		job, seam := readJob(t), readSeam(t)
		i, known := index[job.RO]
		if !known {
			i = len(jobs)
			index[job.RO] = i
			jobs = append(jobs, job)
		} else if col := disagreement(jobs[i], job); col != "" {
			t.bad(col, "the same as on line "+strconv.Itoa(jobs[i].Seams[0].Line)+" of the same job")
		}
		key := job.RO + "/" + seam.ID
		if was, twice := seams[key]; twice {
			t.bad("seam", "each seam of a job once, it stands at line "+strconv.Itoa(was)+" too")
		}
		seams[key] = t.line
		jobs[i].Seams = append(jobs[i].Seams, seam)
	}
	if err := s.err(); err != nil {
		return nil, err
	}
	return jobs, nil
}

func readJob(t *table) Job {
	j := Job{
		RO: t.id("ro"), Vehicle: t.needText("vehicle", 80), PaintColour: t.text("paint_colour", 60),
		Weight: 1,
	}
	j.VIN, j.VINNotes = readVIN(t)
	for _, p := range t.split("coats") {
		if c := spec.Coat(p); spec.Known(c, spec.Coats()) {
			j.Coats = append(j.Coats, c)
		} else {
			t.s.bad(t.line, "coats", p, "kinds of coat separated by ;, each "+oneOf(spec.Coats()))
		}
	}
	if len(j.Coats) > 8 {
		t.bad("coats", "at most 8 coats")
	}
	if t.cell("promised") != "" {
		at, ok := moment(t.cell("promised"))
		if !ok {
			t.bad("promised", momentLimit+", or empty")
		}
		j.Promised = at
	}
	if x := t.maybe("weight", span{hi: 1e9}); x != nil {
		j.Weight = *x
	}
	if x := t.maybe("after_booth_min", minutes); x != nil {
		j.AfterBoothMin = *x
	}
	return j
}

func readVIN(t *table) (string, []string) {
	text := t.cell("vin")
	if text == "" {
		return "", []string{"no vehicle identification number recorded"}
	}
	r := vin.Check(text)
	if !r.Valid {
		limit := strings.Join(r.Reasons, ", ")
		if len(r.Suggestions) > 0 {
			limit += "; perhaps " + r.Suggestions[0]
		}
		t.bad("vin", limit)
		return "", nil
	}
	return r.VIN, r.Reasons
}

func readSeam(t *table) Seam {
	s := Seam{
		ID: t.id("seam"), Panel: t.id("panel"), Place: t.needText("place", 80), Side: t.text("side", 20),
		Orientation:     cellWord(t, "orientation", spec.Orientations(), false),
		Finish:          cellWord(t, "finish", spec.Finishes(), true),
		Substrate:       cellWord(t, "substrate", spec.Substrates(), false),
		ReferenceSource: cellWord(t, "reference_source", spec.ReferenceSources(), false),
		Class:           cellWord(t, "class", spec.Classes(), false),
		Profile:         cellWord(t, "profile", spec.Profiles(), false),
		Colour:          t.text("colour", 60),
		WidthMM:         t.maybe("width_mm", span{above: true, hi: 500, unit: "mm"}),
		HeightMM:        t.maybe("height_mm", span{above: true, hi: 100, unit: "mm"}),
		LengthMM:        t.maybe("length_mm", span{above: true, hi: 20000, unit: "mm"}),
		SheetMM:         t.maybe("sheet_mm", span{lo: 0.1, hi: 50, unit: "mm"}),
		Line:            t.line,
	}
	if s.ReferenceSource == "" {
		s.ReferenceSource = spec.NoReference
	}
	if s.Substrate == spec.SubstrateUnknown {
		s.Substrate = ""
	}
	s.Lab = readLab(t)
	return s
}

// readLab reads a measured colour: its three numbers together or none.
func readLab(t *table) *spec.Lab {
	l, a, b := t.maybe("lab_l", labL), t.maybe("lab_a", labAB), t.maybe("lab_b", labAB)
	if l != nil && a != nil && b != nil {
		return lab([3]float64{*l, *a, *b})
	}
	given := 0
	for _, col := range []string{"lab_l", "lab_a", "lab_b"} {
		if t.cell(col) != "" {
			given++
		}
	}
	if given == 1 || given == 2 {
		t.bad("lab_l", "lab_l, lab_a and lab_b together, or all empty")
	}
	return nil
}

// disagreement names the first column in which two rows of a job differ.
func disagreement(a, b Job) string {
	switch {
	case a.VIN != b.VIN:
		return "vin"
	case a.Vehicle != b.Vehicle:
		return "vehicle"
	case !slices.Equal(a.Coats, b.Coats):
		return "coats"
	case a.PaintColour != b.PaintColour:
		return "paint_colour"
	case !a.Promised.Equal(b.Promised):
		return "promised"
	case a.Weight != b.Weight:
		return "weight"
	case a.AfterBoothMin != b.AfterBoothMin:
		return "after_booth_min"
	}
	return ""
}
