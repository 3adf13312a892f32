package floor

import (
	"time"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/spec"
)

// Stage is how far a seam has come.
type Stage string

// The stages of a seam. A seam that is left exposed has no open, closed and
// coated.
const (
	NoStage  Stage = ""
	Surveyed Stage = "surveyed"
	Planned  Stage = "planned"
	Prepped  Stage = "prepped"
	Laid     Stage = "laid"
	Flowing  Stage = "flowing"
	Open     Stage = "open"
	Closed   Stage = "closed"
	CoatedOn Stage = "coated"
	Cured    Stage = "cured"
	Tested   Stage = "tested"
	Accepted Stage = "accepted"
)

var stageOrder = []Stage{NoStage, Surveyed, Planned, Prepped, Laid, Flowing, Open, Closed, CoatedOn, Cured, Tested, Accepted}

// Rank orders stages along the life of a seam.
func (s Stage) Rank() int {
	for i, o := range stageOrder {
		if o == s {
			return i
		}
	}
	return 0
}

// Plan is what is to be laid on a seam.
type Plan struct {
	Product   ProductID
	Profile   spec.Profile
	WidthMM   float64
	HeightMM  float64
	Technique spec.Technique
	Nozzle    string
	Volume    ul
	Reasons   []string
	Cautions  []string
}

// undercoat is what the bead will lie on, as far as its own times go.
type undercoat struct {
	at       time.Time // when it was finished
	late     time.Time
	dryMin   float64 // 0: unknown
	recoat   float64 // 0: no limit
	scuffed  time.Time
	product  string
	makes    spec.Substrate
	sequence uint64
}

// Bead is the material on a seam as it lies there now.
type Bead struct {
	Began     uint64         // sequence of the fact that its clocks began with
	Layers    []spec.Layer   // in the order they were laid
	ReadyFrom time.Time      // what must be reached counts from here
	SpentFrom time.Time      // what must not be passed counts from here
	Ended     time.Time      // when laying ended, to the best of knowledge
	Product   *Product       // the revision that it was laid with; nil: unknown
	Technique spec.Technique // as laid
	Profile   spec.Profile   // as laid
	Elsewhere bool           // laid outside this journal: its clocks are unknown
	By        string         // who laid it
	SurfaceC  *float64       // measured when the bead was laid
	Scuffed   *Scuff
	Tooled    bool
	Deaired   bool
	Disturbed bool
	bedless   bool // told to have been laid without a wet bed
}

// Scuff is a scuffed bead: its coat window is open again for a time.
type Scuff struct {
	Began uint64
	At    time.Time // earliest: what must not be passed counts from here
}

// Has reports whether a layer was laid.
func (b *Bead) Has(l spec.Layer) bool { return b != nil && spec.Known(l, b.Layers) }

// Seam is a seam as its facts make it.
type Seam struct {
	ID          SeamID
	Job         RO
	Panel       PanelID
	Place, Side string
	LengthMM    float64
	SheetMM     float64 // of the metal that it lies on; 0: unknown
	Orientation spec.Orientation
	Finish      spec.Finish
	Found       spec.Substrate // as surveyed
	Substrate   spec.Substrate // as prepped, else as surveyed
	Reference   spec.Reference
	DrainHoles  bool
	Hidden      bool
	Procedure   *spec.Procedure
	Plan        *Plan
	Stage       Stage
	Bead        *Bead // nil: nothing on it
	CoatedAt    time.Time
	CoatedWith  spec.Coat
	Photos      int
	Waxed       bool
	Reworks     int
	PreppedAt   time.Time

	under     *undercoat
	firstCoat spec.Coat
	prepped   bool
	coated    bool
	flowedOut bool
	opened    bool
	closed    bool
	cured     bool
	tested    bool
	accepted  bool
	elsewhere Stage
	said      map[window]announcement
	misfits   map[uint64]string // why a fact left the stage as it was
}

// window names one clock of a bead whose end is announced by an event.
type window struct {
	Clock floorv1.Clock
	Coat  spec.Coat
	Began uint64
}

// announcement is an event that said that a window opened or closed.
type announcement struct {
	seq uint64
	due time.Time
}

// Survey is what the rules of what goes on a seam need to know of it.
func (s *Seam) Survey() spec.Seam {
	return spec.Seam{
		Place: s.Place, Orientation: s.Orientation, Finish: s.Finish, Substrate: s.Substrate, Reference: s.Reference,
		DrainHoles: s.DrainHoles, FirstCoat: s.FirstCoat(), Procedure: s.Procedure,
	}
}

// Name is the seam's place and side in words, "roof ditch L".
func (s *Seam) Name() string {
	if s.Side == "" {
		return s.Place
	}
	return s.Place + " " + s.Side
}

// NeedsBed reports whether a wet bed belongs under the bead: as planned or
// laid, unless the bead is there and was told to have been laid without. That
// is a finding, not a layer that is still to come.
func (s *Seam) NeedsBed() bool {
	if s.Bead.Has(spec.Bead) && s.Bead.bedless {
		return false
	}
	return s.Plan != nil && s.Plan.Technique.WetBed() || s.Bead != nil && s.Bead.Technique.WetBed()
}

// Complete reports whether all layers are on the seam.
func (s *Seam) Complete() bool {
	return s.Bead != nil && (s.Bead.Elsewhere || s.Bead.Has(spec.Bead) && (!s.NeedsBed() || s.Bead.Has(spec.Bed)))
}

// Coated reports whether a coat lies over the sealer.
func (s *Seam) Coated() bool { return s.coated }

// FirstCoat is the kind of coat that goes first over the sealer, by the job.
func (s *Seam) FirstCoat() spec.Coat { return s.firstCoat }

// stage derives the stage from what is known.
func (s *Seam) stage() Stage {
	st := s.unlaidStage()
	if s.Complete() {
		st = s.laidStage()
	}
	if s.elsewhere.Rank() > st.Rank() {
		st = s.elsewhere
	}
	if st.Rank() >= Cured.Rank() && s.tested {
		st = Tested
		if s.accepted {
			st = Accepted
		}
	}
	return st
}

func (s *Seam) unlaidStage() Stage {
	switch {
	case s.prepped || s.Bead != nil:
		return Prepped
	case s.Plan != nil:
		return Planned
	case s.Place != "":
		return Surveyed
	}
	return NoStage
}

func (s *Seam) laidStage() Stage {
	done := s.coated || s.Finish == spec.Exposed
	switch {
	case done && s.cured:
		return Cured
	case s.coated:
		return CoatedOn
	case s.closed:
		return Closed
	case s.opened && s.Finish != spec.Exposed:
		return Open
	case s.flows() && !s.flowedOut:
		return Flowing
	}
	return Laid
}

// flows reports whether the bead levels by itself.
func (s *Seam) flows() bool {
	return s.Bead.Product != nil && s.Bead.Product.Spec.Class == spec.SelfLevelling
}

// strip takes the bead off: the seam is prepped again.
func (s *Seam) strip() {
	s.Bead, s.CoatedAt, s.CoatedWith = nil, time.Time{}, ""
	s.coated, s.flowedOut, s.opened, s.closed, s.cured, s.tested, s.accepted = false, false, false, false, false, false, false
	s.elsewhere, s.prepped = NoStage, true
	s.said = map[window]announcement{}
	s.Reworks++
}
