package jobs

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/calc/quantity"
	"seamwright/services/floor"
)

// bill collects the lines of an invoice.
type bill struct {
	f     *floor.Floor
	rate  quantity.Money
	lines []*line
}

// key is what one line stands for.
type key struct {
	seam     floor.SeamID
	kind     jobsv1.InvoiceKind
	op       floor.Operation
	billed   bool
	revision *floor.Product
	guessed  bool
	basis    floor.TimeBasis
	cost     cost
}

// cost is what a cartridge of the lot cost that material came from; the zero
// value: the product's price counts.
type cost struct{ amount, currency string }

// costOf is what a cartridge's lot cost.
func (b *bill) costOf(id floor.CartridgeID) cost {
	if c := b.f.Cartridge(id); c != nil {
		if l := b.f.Lot(c.Lot); l != nil {
			return cost{l.Cost, l.Currency}
		}
	}
	return cost{}
}

// spent are the operations of lines of material that lies on no seam.
var spent = []floor.Operation{floor.Operation(floor.Equalised), floor.Operation(floor.Purged), floor.Operation(floor.HeldUp)}

func (k key) rank() int {
	if i := slices.Index(spent, k.op); i >= 0 {
		return i
	}
	return len(spent) + slices.Index(floor.Operations(), k.op)
}

func (k key) compare(o key) int {
	not := func(b bool) int {
		if b {
			return 0
		}
		return 1
	}
	return cmp.Or(cmp.Compare(k.seam, o.seam), cmp.Compare(k.kind, o.kind), cmp.Compare(k.rank(), o.rank()),
		cmp.Compare(not(k.billed), not(o.billed)), cmp.Compare(k.product(), o.product()), cmp.Compare(k.basis, o.basis),
		cmp.Compare(k.cost.currency, o.cost.currency), cmp.Compare(k.cost.amount, o.cost.amount))
}

func (k key) product() string {
	if k.revision == nil {
		return ""
	}
	return string(k.revision.ID)
}

// line is one line while it is being added up.
type line struct {
	key
	known     bool // its quantity is known, at least in part
	ul        int64
	took      time.Duration
	times     int
	gap       bool // a part of it is not known
	laid      map[floor.VolumeBasis]*laid
	notes     []string
	unitPrice quantity.Exact
	amount    quantity.Exact
}

// laid is what was laid of one basis: by the book, and what it comes to.
type laid struct{ booked, volume int64 }

func (l *line) note(text string) {
	if !slices.Contains(l.notes, text) {
		l.notes = append(l.notes, text)
	}
}

// at gives the line of a key.
func (b *bill) at(k key) *line {
	for _, l := range b.lines {
		if l.key == k {
			return l
		}
	}
	l := &line{key: k}
	b.lines = append(b.lines, l)
	return l
}

const takenOff = "not billed: the bead was taken off"

// lay adds a layer that was laid.
func (b *bill) lay(u floor.Use) {
	l := b.at(key{
		seam: u.Seam, kind: jobsv1.InvoiceKind_INVOICE_KIND_MATERIAL, op: floor.OpLay,
		billed: u.Removed.IsZero(), revision: u.Product, guessed: u.Guessed, cost: b.costOf(u.Cartridge),
	})
	if l.laid == nil {
		l.laid = map[floor.VolumeBasis]*laid{}
	}
	if l.laid[u.Basis] == nil {
		l.laid[u.Basis] = &laid{}
	}
	l.laid[u.Basis].booked += int64(u.Booked)
	l.laid[u.Basis].volume += int64(u.Volume)
	switch u.Basis {
	case floor.VolumeWithBead:
	case floor.VolumeUnknown:
		l.gap = true
	default:
		l.known, l.ul = true, l.ul+int64(u.Volume)
		l.doubt(u)
	}
	if u.Product == nil {
		l.note("which product was laid is not known")
	} else if u.Guessed {
		l.note("the product is the planned one: which cartridge was used is not known")
	}
	if !l.billed {
		l.note(takenOff)
	}
}

// doubt takes what a cartridge did not hold off the bill while the query about
// it is open; answered, it is billed as it was told. What a weight corrected
// since is settled by it.
func (l *line) doubt(u floor.Use) {
	if u.Doubt == "" {
		return
	}
	text := fmt.Sprintf("in doubt, finding %s is open: by the book %s of it are more than cartridge %s held", u.Doubt, ml(int64(u.Over)), u.Cartridge)
	if u.Basis != floor.VolumeCorrected {
		l.ul -= int64(u.Over)
		text += ", and are not billed until it is answered"
	}
	l.note(text)
}

// volumeNotes says where the volume that was laid comes from.
func (l *line) volumeNotes() (out []string) {
	of := func(b floor.VolumeBasis, say func(*laid) string) {
		if x := l.laid[b]; x != nil {
			out = append(out, say(x))
		}
	}
	of(floor.VolumeTold, func(x *laid) string { return ml(x.volume) + " as told" })
	of(floor.VolumePlanned, func(x *laid) string { return ml(x.volume) + " as planned" })
	of(floor.VolumeCorrected, func(x *laid) string {
		return fmt.Sprintf("%s as planned, %s by a weight or a mark of the cartridge", ml(x.booked), ml(x.volume))
	})
	of(floor.VolumeWithBead, func(*laid) string { return "the wet bed counts with the bead's planned volume" })
	of(floor.VolumeUnknown, func(*laid) string { return "a layer's volume was neither told nor planned" })
	return out
}

func ml(ul int64) string { return quantity.Volume(float64(ul) / 1000).Show(quantity.Metric) }

// waste adds what was spent for a layer of the job.
func (b *bill) waste(w floor.Waste) {
	l := b.at(key{
		seam: w.For.Seam, kind: jobsv1.InvoiceKind_INVOICE_KIND_MATERIAL, op: floor.Operation(w.Kind),
		billed: w.For.Removed.IsZero(), revision: w.Product, cost: b.costOf(w.Cartridge),
	})
	if w.Known {
		l.known, l.ul = true, l.ul+int64(w.Volume)
		l.note("for the layer that was laid next from cartridge " + string(w.Cartridge))
	} else {
		l.gap = true
		l.note("how much was spent of cartridge " + string(w.Cartridge) + " was not told")
	}
	if w.Product == nil {
		l.note("of which product cartridge " + string(w.Cartridge) + " is, is not known")
	}
	if !l.billed {
		l.note(takenOff)
	}
}

// work adds the minutes and the number of operations.
func (b *bill) work(all []floor.Work) {
	for _, w := range all {
		billed, why := counts(w, all)
		l := b.at(key{seam: w.Seam, kind: jobsv1.InvoiceKind_INVOICE_KIND_LABOUR, op: w.Operation, billed: billed, basis: w.Basis})
		l.known, l.took = w.Basis != floor.TimeUnknown, l.took+w.Took
		l.note(timeNotes[w.Basis])
		if w.Shared > 1 && l.known {
			l.note(fmt.Sprintf("its part of work on %d seams", w.Shared))
		}
		n := b.at(key{seam: w.Seam, kind: jobsv1.InvoiceKind_INVOICE_KIND_OPERATION, op: w.Operation, billed: billed})
		n.known, n.times = true, n.times+1
		if why != "" {
			l.note(why)
			n.note(why)
		}
	}
}

var timeNotes = map[floor.TimeBasis]string{
	floor.TimeTold:    "as told",
	floor.TimeSince:   "since the same person's fact before, at most 20 min",
	floor.TimeUnknown: "not known: no duration was told, and the same person told nothing in the 20 min before",
}

// counts reports whether work is billed, and why not. Rework is billed once:
// what was done to a bead that was taken off is shown and not billed, nor is
// taking it off. What lies under the bead (undercoat, prep) counts once, the
// last time that it was done; a survey always counts.
func counts(w floor.Work, all []floor.Work) (billed bool, why string) {
	switch w.Operation {
	case floor.OpSurvey:
		return true, ""
	case floor.OpRework:
		return false, "not billed: rework"
	case floor.OpUndercoat, floor.OpPrep:
		if slices.ContainsFunc(all, func(o floor.Work) bool {
			return o.Seam == w.Seam && o.Operation == w.Operation && later(o.Removed, w.Removed)
		}) {
			return false, "not billed: it was done again after the bead was taken off"
		}
		return true, ""
	}
	if !w.Removed.IsZero() {
		return false, takenOff
	}
	return true, ""
}

// later reports whether a thing lay on a seam longer than another: until a
// later removal, or to this day.
func later(a, b time.Time) bool {
	return !b.IsZero() && (a.IsZero() || a.After(b))
}

func (l *line) proto() *jobsv1.InvoiceLine {
	out := &jobsv1.InvoiceLine{
		Kind: l.kind, SeamId: string(l.seam), Operation: string(l.op), ProductId: l.product(), Billed: l.billed,
		UnitPrice: l.unitPrice.Decimal(), Amount: l.amount.Decimal(), Currency: l.unitPrice.Currency(), Note: strings.Join(append(l.volumeNotes(), l.notes...), "; "),
	}
	if l.amount.Known() {
		out.Shown = l.amount.Show()
	}
	var q float64
	switch l.kind {
	case jobsv1.InvoiceKind_INVOICE_KIND_MATERIAL:
		out.Unit, q = jobsv1.InvoiceUnit_INVOICE_UNIT_ML, float64(l.ul)/1000
	case jobsv1.InvoiceKind_INVOICE_KIND_LABOUR:
		out.Unit, q = jobsv1.InvoiceUnit_INVOICE_UNIT_MIN, l.took.Minutes()
	default:
		out.Unit, q = jobsv1.InvoiceUnit_INVOICE_UNIT_EACH, float64(l.times)
	}
	if l.known {
		out.Quantity = &q
	}
	return out
}
