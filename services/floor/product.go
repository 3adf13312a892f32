package floor

import (
	"time"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/calc/spec"
)

// Product is one revision of a product. A bead keeps the revision that it
// was laid under.
type Product struct {
	ID         ProductID
	Revision   uint64 // sequence of the fact that defined it
	Spec       spec.Product
	Cartridge  ul
	MixRatio   string
	ShelfLife  time.Duration // 0: not given
	OpenedLife time.Duration // 0: not given
	LeadTime   time.Duration // from order to delivery; 0: not given
	Price      string        // of a cartridge, decimal; empty: not given
	Currency   string        // ISO 4217 code of the price
	Law        cure.Law
	Basis      string // where the activation energy comes from
	Tolerance  float64
	MinC, MaxC *float64 // °C, as the label says
	stages     map[floorv1.Clock]time.Duration
	over       map[spec.Coat]CoatWindow
	afterScuff *time.Duration
}

// CoatWindow is when the first coat over the sealer may begin and must have
// begun, at the reference temperature.
type CoatWindow struct{ Opens, Closes time.Duration }

// Needs is how long a clock runs at the reference temperature. For coat
// windows the kind of coat matters; a self-levelling product's window opens
// at the later of flow-out and the coat's own time.
func (p *Product) Needs(c floorv1.Clock, coat spec.Coat) (time.Duration, bool) {
	switch c {
	case floorv1.Clock_CLOCK_COAT_OPENS:
		w, ok := p.over[coat]
		return max(w.Opens, p.flowOut()), ok
	case floorv1.Clock_CLOCK_COAT_CLOSES:
		w, ok := p.over[coat]
		return w.Closes, ok
	}
	d, ok := p.stages[c]
	return d, ok
}

// CartridgeML is what a full cartridge holds, in ml.
func (p *Product) CartridgeML() float64 { return p.Cartridge.ML() }

// AfterScuff is how long a scuffed bead may wait for its coat.
func (p *Product) AfterScuff() (time.Duration, bool) {
	if p.afterScuff == nil {
		return 0, false
	}
	return *p.afterScuff, true
}

func (p *Product) flowOut() time.Duration {
	if p.Spec.Class != spec.SelfLevelling {
		return 0
	}
	return p.stages[floorv1.Clock_CLOCK_FLOW_OUT]
}

// productAt is the revision in force at a moment: the newest not later, or
// the first when the product was entered after it was used; nil when unknown.
func (fl *Floor) productAt(b *book, id ProductID, at time.Time) *Product {
	var best *fact
	for _, f := range b.of(id.key()) {
		if best == nil || !f.at.After(at) {
			best = f
		}
	}
	if best == nil {
		return nil
	}
	if p, ok := fl.revisions[best.body.(*materialsv1.ProductDefined)]; ok {
		return p
	}
	p, err := ReadProduct(best.body.(*materialsv1.ProductDefined))
	if err != nil {
		return nil // refused when it was told; a stored one reads
	}
	p.Revision = best.seq
	return p
}

// keepRevision reads a definition once, when it is applied: readers come side
// by side and must find it there.
func (fl *Floor) keepRevision(d *materialsv1.ProductDefined, seq uint64) error {
	p, err := ReadProduct(d)
	if err != nil {
		return err
	}
	p.Revision = seq
	fl.revisions[d] = p
	return nil
}

// ReadProduct makes a product out of its definition. It refuses a cure that
// no law describes.
func ReadProduct(d *materialsv1.ProductDefined) (*Product, error) {
	c := d.GetCure()
	law, err := cure.NewBand(c.GetActivationLowKjMol()*1000, c.GetActivationHighKjMol()*1000, c.GetReferenceTempC())
	if err == nil && c.MinTempC != nil {
		law, err = law.WithMinTemp(c.GetMinTempC())
	}
	if err != nil {
		return nil, err
	}
	p := &Product{
		ID: ProductID(d.GetProductId()), Cartridge: toUL(d.GetCartridgeMl()), MixRatio: d.GetMixRatio(),
		ShelfLife: days(d.GetShelfLifeDays()), OpenedLife: days(d.GetOpenedLifeDays()), LeadTime: days(d.GetLeadTimeDays()),
		Price: d.GetPrice(), Currency: d.GetCurrency(),
		Law: law, Basis: c.GetActivationBasis(), Tolerance: c.GetTolerancePercent() / 100, MinC: c.MinTempC, MaxC: c.MaxTempC,
		stages: map[floorv1.Clock]time.Duration{}, over: map[spec.Coat]CoatWindow{},
	}
	p.Spec = spec.Product{
		ID: d.GetProductId(), Name: d.GetName(), Class: spec.Class(enumWord(d.GetClass())), Build: spec.Build(enumWord(d.GetBuild())),
		Colour: d.GetColour(), Lab: labOf(d.GetLab()),
	}
	for _, s := range d.GetSubstrates() {
		p.Spec.Substrates = append(p.Spec.Substrates, substrateOf(s))
	}
	p.readTimes(c)
	return p, nil
}

func (p *Product) readTimes(c *materialsv1.Cure) {
	for clock, m := range map[floorv1.Clock]*float64{
		floorv1.Clock_CLOCK_NOZZLE_GEL: c.NozzleGelMin, floorv1.Clock_CLOCK_TOOLING: c.ToolingMin,
		floorv1.Clock_CLOCK_FLOW_OUT: c.FlowOutMin, floorv1.Clock_CLOCK_HANDLING: c.HandlingMin,
		floorv1.Clock_CLOCK_FULL_CURE: c.FullCureMin,
	} {
		if m != nil {
			p.stages[clock] = minutes(*m)
		}
	}
	for _, w := range c.GetOver() {
		p.over[spec.Coat(enumWord(w.GetCoat()))] = CoatWindow{minutes(w.GetOpensMin()), minutes(w.GetClosesMin())}
	}
	if c.AfterScuffClosesMin != nil {
		d := minutes(c.GetAfterScuffClosesMin())
		p.afterScuff = &d
	}
}

func days(d float64) time.Duration { return time.Duration(d * 24 * float64(time.Hour)) }

// Sheets are the shop's products as the rules of what goes on a seam know
// them, as they stand at a moment.
func (fl *Floor) Sheets(at time.Time) []spec.Product {
	out := []spec.Product{}
	for _, id := range fl.Products() {
		if p := fl.productAt(fl.book, id, at); p != nil {
			out = append(out, p.Spec)
		}
	}
	return out
}
