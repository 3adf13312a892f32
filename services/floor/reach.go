package floor

import (
	"slices"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
)

// Reach says what the decision on an event leaned on and what applying it
// changes, by the names of lists in the book ("seam/2207/rd-l") and of two
// things beside them: "panels/<ro>" is which panel each seam of a job lies
// on, "air/<zone>" the readings of a zone. The event is one that was decided
// on the floor as it stands.
//
// What it promises is this: an event that is decided here, and whose reads
// meet no write of some others that were decided here, would be decided to
// the same bytes behind those others too. So they may be appended together.
//
// Alone means that nothing is promised. That holds for everything that is not
// listed here by type: permits and what ends them, the booth's facts,
// definitions, lots and counts, deliveries, removed beads, withdrawals,
// corrections and answers, what time or a service brings. And for a fact that
// stands before others of the same thing, since those are judged again, or
// that says something about another fact.
func (fl *Floor) Reach(ev Event) (reads, writes []string, alone bool) {
	how := reachOf(ev)
	if how == goesAlone || speaksOfOthers(ev) {
		return nil, nil, true
	}
	if e, ok := ev.Body.(*curesv1.ReadingTaken); ok {
		air := []string{airKey(ZoneID(e.GetZoneId()))}
		return air, air, false
	}
	ev.Seq = fl.seq + 1
	r := reach{fl: fl}
	for _, p := range fl.place(&ev) {
		if r.behindIt(p) {
			return nil, nil, true
		}
		r.placed(p)
		if how == byAir {
			r.temperature(p)
		}
	}
	if e, ok := ev.Body.(*jobsv1.SeamSurveyed); ok {
		r.writes = append(r.writes, panelsKey(SeamID(e.GetSeamId()).RO()))
	}
	if len(r.writes) == 0 {
		return nil, nil, true // it concerns no history that is known here
	}
	slices.Sort(r.reads)
	slices.Sort(r.writes)
	return slices.Compact(r.reads), slices.Compact(r.writes), false
}

// How far the decision on an event looks.
const (
	goesAlone = iota
	byThing   // at the things that it names
	byAir     // at the temperatures where they were as well
)

func reachOf(ev Event) int {
	switch ev.Body.(type) {
	case *jobsv1.JobOpened, *jobsv1.SeamSurveyed, *jobsv1.SeamPlanned, *jobsv1.ProcedureRecorded,
		*jobsv1.PanelMoved, *jobsv1.CarMoved, *jobsv1.SurfacePrepped, *jobsv1.BeadDeaired, *jobsv1.BeadDisturbed,
		*jobsv1.SeamScuffed, *jobsv1.HeatApplied, *jobsv1.WaxApplied, *jobsv1.SeamInspected, *jobsv1.PhotoAttached,
		*jobsv1.DoneElsewhere,
		*materialsv1.CartridgeOpened, *materialsv1.CartridgeEqualised, *materialsv1.NozzleFitted,
		*materialsv1.CartridgePurged, *materialsv1.NozzleRemoved, *materialsv1.CartridgeStored,
		*materialsv1.CartridgeWeighed, *materialsv1.CartridgeEmptied,
		*curesv1.ReadingTaken:
		return byThing
	case *jobsv1.BeadLaid, *jobsv1.RunLaid, *jobsv1.BeadTooled, *jobsv1.CoatApplied, *jobsv1.WaterTested, *curesv1.StageObserved:
		return byAir
	}
	return goesAlone
}

// speaksOfOthers reports whether what was decided says something about facts
// before it: it was judged together with them.
func speaksOfOthers(ev Event) bool {
	a := assessmentOf(ev.Body)
	if len(a.GetLapsed()) > 0 {
		return true
	}
	for _, f := range a.GetFindings() {
		if f.GetAboutSequence() != 0 {
			return true
		}
	}
	return false
}

// reach collects keys.
type reach struct {
	fl            *Floor
	reads, writes []string
	seen          []CartridgeID // whose reach is in already
}

func airKey(z ZoneID) string { return "air/" + string(z) }
func panelsKey(ro RO) string { return "panels/" + string(ro) }

// behindIt reports whether there are others that would be judged again with a
// fact: those that it stands before, what was done with a cartridge before it
// is said to be opened; the same lists as [assessor.leaning] looks at.
func (r *reach) behindIt(p placed) bool {
	b := r.fl.book
	if len(b.after(p.k, p.f)) > 0 || opens(p) && len(b.of(p.k)) > 0 {
		return true
	}
	if kind, id := p.k.split(); kind == "nozzle" {
		for _, c := range carriers(b, NozzleID(id)) {
			if r.read(c.key()); len(b.after(c.key(), p.f)) > 0 {
				return true
			}
		}
	}
	return false
}

func (r *reach) read(k key) { r.reads = append(r.reads, string(k)) }

// placed takes in one thing that the event concerns. It is changed, and what
// it was before was looked at.
func (r *reach) placed(p placed) {
	r.writes = append(r.writes, string(p.k))
	r.read(p.k)
	switch kind, id := p.k.split(); kind {
	case "seam":
		r.seam(SeamID(id))
	case "where":
		r.read(RO(id).key())
	case "cartridge":
		r.cartridge(CartridgeID(id))
	case "nozzle":
		if n := r.fl.nozzles[NozzleID(id)]; n != nil {
			r.cartridge(n.Cartridge)
		}
	}
}

// seam: a seam leans on its job, which names the first coat, and on each
// cartridge that material was laid on it from.
func (r *reach) seam(id SeamID) {
	r.read(id.key())
	r.read(id.RO().key())
	for _, f := range r.fl.book.of(id.key()) {
		if f.lay != nil {
			r.cartridge(f.lay.cartridge)
		}
	}
}

// cartridge: a cartridge leans on every nozzle that was ever on it and on the
// lots that it is said to be of.
func (r *reach) cartridge(id CartridgeID) {
	if id == "" || slices.Contains(r.seen, id) {
		return
	}
	r.seen = append(r.seen, id)
	r.read(id.key())
	for _, f := range r.fl.book.of(id.key()) {
		if n := nozzleOf(f); n != "" {
			r.read(n.key())
		}
		if e, ok := f.body.(*materialsv1.CartridgeOpened); ok {
			r.read(LotID(e.GetLotId()).key())
		}
	}
}

// temperature: a clock leans on where the panel was and on the readings
// there. A nozzle's clock leans on where the cars were that it was used on.
// Which zones those are is not worked out: the readings of any may count.
func (r *reach) temperature(p placed) {
	for z := range r.fl.zones {
		r.reads = append(r.reads, airKey(z))
	}
	switch kind, id := p.k.split(); kind {
	case "seam":
		r.place(SeamID(id).RO())
		for _, f := range r.fl.book.of(p.k) {
			if f.lay != nil {
				r.usedOn(f.lay.cartridge)
			}
		}
	case "cartridge":
		r.usedOn(CartridgeID(id))
	}
}

func (r *reach) place(ro RO) {
	r.read(ro.where())
	r.reads = append(r.reads, panelsKey(ro))
}

func (r *reach) usedOn(id CartridgeID) {
	for _, s := range laidFrom(r.fl.book.of(id.key())) {
		r.place(s.RO())
	}
}
