package sim

import (
	"maps"
	"slices"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
)

// product is a sealer as its definition was told.
type product struct {
	def  *materialsv1.ProductDefined
	law  *law
	tol  float64
	over map[floorv1.Coat]*materialsv1.Cure_Window
}

func newProduct(d *materialsv1.ProductDefined) *product {
	c := d.GetCure()
	p := &product{def: d, tol: c.GetTolerancePercent() / 100, over: map[floorv1.Coat]*materialsv1.Cure_Window{}}
	p.law = &law{refC: c.GetReferenceTempC(), low: c.GetActivationLowKjMol(), top: c.GetActivationHighKjMol(), minC: -300}
	if c.MinTempC != nil {
		p.law.minC = c.GetMinTempC()
	}
	for _, w := range c.GetOver() {
		p.over[w.GetCoat()] = w
	}
	return p
}

func (p *product) id() string { return p.def.GetProductId() }
func (p *product) levels() bool {
	return p.def.GetClass() == floorv1.SealerClass_SEALER_CLASS_SELF_LEVELLING
}

// needs is how many seconds at the reference temperature a clock takes; false
// when the product's sheet does not say.
func (p *product) needs(k floorv1.Clock, coat floorv1.Coat) (float64, bool) {
	c := p.def.GetCure()
	minutes := func(m *float64) (float64, bool) {
		if m == nil {
			return 0, false
		}
		return *m * 60, true
	}
	w, known := p.over[coat]
	switch k {
	case floorv1.Clock_CLOCK_NOZZLE_GEL:
		return minutes(c.NozzleGelMin)
	case floorv1.Clock_CLOCK_TOOLING:
		return minutes(c.ToolingMin)
	case floorv1.Clock_CLOCK_FLOW_OUT:
		return minutes(c.FlowOutMin)
	case floorv1.Clock_CLOCK_HANDLING:
		return minutes(c.HandlingMin)
	case floorv1.Clock_CLOCK_FULL_CURE:
		return minutes(c.FullCureMin)
	case floorv1.Clock_CLOCK_COAT_OPENS:
		opens := w.GetOpensMin()
		if p.levels() {
			opens = max(opens, c.GetFlowOutMin())
		}
		return opens * 60, known
	case floorv1.Clock_CLOCK_COAT_CLOSES:
		return w.GetClosesMin() * 60, known
	}
	return 0, false
}

// lot is a delivery with the account's own tally of its material, in
// microlitres so that sums are exact.
type lot struct {
	id         string
	product    *product
	expires    time.Time
	recalled   bool
	recalledAt time.Time
	received   int // cartridges
	opened     int
	lost       int // cartridges that a count did not find
	laid       int64
	purged     int64
	thrown     int64
	missing    int64
}

// cartridge is an opened cartridge.
type cartridge struct {
	contents
	id        string
	lot       *lot
	bay       string
	left      int64 // µl
	opened    time.Time
	nozzle    string
	purged    bool
	equalised bool
	flow      time.Time // when material last moved through the nozzle; zero: not yet
	gone      bool
}

func ul(ml float64) int64 {
	if ml < 0 {
		return -ul(-ml)
	}
	return int64(ml*1000 + 0.5)
}

// booth is where loads are sprayed.
type booth struct {
	id, zone  string
	def       *boothv1.BoothDefined
	fault     string
	loaded    *load
	phase     boothv1.Phase
	firstCoat time.Duration
	process   time.Duration
	colour    string
	gun       string // the colour that it is set up for
	setFor    *load  // the load that it was set up for last
	permit    *permit
	opens     time.Duration
	closes    time.Duration
}

// permit is leave to spray as the watchers saw it.
type permit struct {
	id, load string
	issued   time.Time
	startBy  time.Time
	override bool
	over     []string // what it goes over
	lapsing  string   // why it must be taken back; empty: it must not
	ended    bool
}

// load is what a booth takes at once.
type load struct {
	id      string
	booth   *booth
	job     *job
	coat    floorv1.Coat // first coat sprayed
	seams   []*seam
	colour  string
	first   time.Duration
	sprayed bool
	done    bool
	out     time.Time // when it was done
	scuffs  bool      // somebody is to scuff its beads
	heldUp  time.Time // since when it should have begun by the plan; zero: it should not
	after   *load     // sprayed before this one
	asked   int
}

// job is the repair of one vehicle.
type job struct {
	ro        string
	def       *jobsv1.JobOpened
	seams     []*seam
	loads     []*load
	course    course
	at        *air   // where the car is; nil: nobody said
	bay       string // its stall
	tablet    string // where its seams were last worked at
	opened    bool
	sealed    bool
	sealedAt  time.Time
	fixedBay  string        // its bay, where that is fixed beforehand
	first     time.Duration // of its first coat in the booth that bakes; 0: the booth's
	hands     int           // people at work on its seams after it was sealed
	delivered bool

	deliveredAt time.Time
	mishaps     map[string]bool
	late        bool // its loads wait until the window has closed
}

func (j *job) coat() floorv1.Coat {
	if cs := j.def.GetCoats(); len(cs) > 0 {
		return cs[0]
	}
	return floorv1.Coat_COAT_UNSPECIFIED
}

// has reports whether a mishap is planted on the job, and takes it off.
func (j *job) has(kind string) bool {
	if !j.mishaps[kind] {
		return false
	}
	delete(j.mishaps, kind)
	return true
}

// undercoat is what a bead will lie on, as far as its own times go.
type undercoat struct {
	at     time.Time
	dryMin float64
}

// seam is a joint of a job.
type seam struct {
	id    string
	job   *job
	def   *jobsv1.SeamSurveyed
	plan  *jobsv1.SeamPlanned
	made  floorv1.Substrate // what it lies on, as prepped
	under *undercoat

	heats    []warmth // held to it, ever
	prepped  bool
	untold   bool  // a bead lies on it that nobody was told of yet
	bead     *bead // nil: nothing on it
	coated   bool
	waxed    bool
	tested   bool
	accepted bool
}

func (s *seam) subject() string { return "seam/" + s.id }
func (s *seam) exposed() bool   { return s.def.GetFinish() == floorv1.Finish_FINISH_EXPOSED }

// substrate is what a bead would lie on now.
func (s *seam) substrate() floorv1.Substrate {
	if s.made != 0 {
		return s.made
	}
	return s.def.GetSubstrate()
}

// bead is the material on a seam as it lies there now.
type bead struct {
	seam      *seam
	began     uint64 // the fact that its clocks began with
	product   *product
	cartridge *cartridge
	ready     time.Time // what must be reached counts from here
	spent     time.Time // what must not be passed counts from here
	bed, top  bool
	scuffed   time.Time            // zero: not
	scuffs    map[uint64]time.Time // every scuff, by its fact
	facts     []uint64             // of its layers
}

func (b *bead) scuff(seq uint64, at time.Time) {
	if b.scuffs == nil {
		b.scuffs = map[uint64]time.Time{}
	}
	b.scuffed, b.scuffs[seq] = at, at
}

func (b *bead) complete() bool {
	return b.top && (b.bed || b.seam.plan.GetTechnique() != floorv1.Technique_TECHNIQUE_WET_BED_THEN_BEAD)
}

// age is how far a clock of the bead has come at a moment, with what it needs.
func (b *bead) age(k floorv1.Clock, coat floorv1.Coat, at time.Time) (a ages, needed float64, ok bool) {
	return b.ageOf(k, coat, b.scuffed, at)
}

// ageOf is age of the window as it is since a scuff; zero: as it was before
// any.
func (b *bead) ageOf(k floorv1.Clock, coat floorv1.Coat, scuffed, at time.Time) (a ages, needed float64, ok bool) {
	from, needed, ok := b.counted(k, coat, scuffed)
	if !ok {
		return a, 0, false
	}
	return b.seam.job.course.age(b.product.law, from, at, b.seam.heats...), needed, true
}

// tooledLate reports whether its tooling time may have been over at a moment, by
// all that is known now.
func (b *bead) tooledLate(at time.Time) bool {
	g, needed, ok := b.age(floorv1.Clock_CLOCK_TOOLING, 0, at)
	return ok && g.hot >= needed*(1-b.product.tol)
}

// settled is how far its window has closed by now for sure, whatever is read
// later.
func (b *bead) settled(coat floorv1.Coat, now time.Time) float64 {
	from, _, _ := b.counted(floorv1.Clock_CLOCK_COAT_CLOSES, coat, b.scuffed)
	return b.seam.job.course.settled(b.product.law, from, now, b.seam.heats...)
}

// counted is from when a clock of the bead counts, and what it needs.
func (b *bead) counted(k floorv1.Clock, coat floorv1.Coat, scuffed time.Time) (from time.Time, needed float64, ok bool) {
	needed, ok = b.product.needs(k, coat)
	from = b.ready
	switch k {
	case floorv1.Clock_CLOCK_TOOLING, floorv1.Clock_CLOCK_NOZZLE_GEL, floorv1.Clock_CLOCK_COAT_CLOSES:
		from = b.spent
		if k == floorv1.Clock_CLOCK_COAT_CLOSES && !scuffed.IsZero() {
			from, needed = scuffed, b.product.def.GetCure().GetAfterScuffClosesMin()*60
		}
	}
	return from, needed, ok
}

func sortedNames[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }
