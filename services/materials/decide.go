// Package materials is the service of the material: products, lots,
// cartridges, nozzles, and what is left of them.
package materials

import (
	"fmt"
	"regexp"
	"time"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// Decide makes the event of a fact of this service. It refuses what no fact
// can be; what is wrong about a fact that happened stands in the event's
// assessment.
func Decide(f *floor.Floor, c floor.Command, at time.Time) (floor.Event, error) {
	if err := check(f, c); err != nil {
		return floor.Event{}, err
	}
	return f.Decide(c, at)
}

func check(f *floor.Floor, c floor.Command) error {
	switch b := c.Body.(type) {
	case *materialsv1.ProductDefined:
		return checkProduct(b)
	case *materialsv1.LotReceived:
		return checkLot(f, b)
	case *materialsv1.LotRecalled, *materialsv1.StockCounted,
		*materialsv1.CartridgeOpened, *materialsv1.CartridgeEqualised, *materialsv1.NozzleFitted,
		*materialsv1.CartridgePurged, *materialsv1.NozzleRemoved, *materialsv1.CartridgeStored,
		*materialsv1.CartridgeWeighed, *materialsv1.CartridgeEmptied:
		return nil
	}
	return fault.Bad("fact", c.Body.ProtoReflect().Descriptor().FullName(), "a fact of the material; tell others to the service that they belong to")
}

// checkLot: a lot number stands for one product, or its balance means nothing.
func checkLot(f *floor.Floor, b *materialsv1.LotReceived) error {
	if (b.GetCost() == "") != (b.GetCurrency() == "") {
		return fault.Bad("lot_received.currency", b.GetCurrency(), "three capital letters beside a cost, empty without one")
	}
	l := f.Lot(floor.LotID(b.GetLotId()))
	if l == nil || l.Product == floor.ProductID(b.GetProductId()) {
		return nil
	}
	return fault.New(fault.Exists, "lot-of-another-product",
		fmt.Sprintf("lot %s belongs to product %s, not %s", l.ID, l.Product, b.GetProductId()),
		"correct the lot number, or the product of the first receipt")
}

var (
	price    = regexp.MustCompile(`^([0-9]{1,9}(\.[0-9]{1,4})?)?$`)
	currency = regexp.MustCompile(`^([A-Z]{3})?$`)
)

func checkProduct(p *materialsv1.ProductDefined) error {
	c := p.GetCure()
	levels := p.GetClass() == floorv1.SealerClass_SEALER_CLASS_SELF_LEVELLING
	switch {
	case p.GetBuild() != floorv1.Build_BUILD_UNSPECIFIED && !levels:
		return bad("build", floor.Word(p.GetBuild()), "unspecified: only a self-levelling sealer has a build")
	case levels && c.FlowOutMin == nil:
		return bad("cure.flow_out_min", "nothing", "minutes: a self-levelling sealer must flow out before it is coated")
	case !price.MatchString(p.GetPrice()):
		return bad("price", p.GetPrice(), `a decimal like "31.50", or empty`)
	case !currency.MatchString(p.GetCurrency()) || (p.GetPrice() == "") != (p.GetCurrency() == ""):
		return bad("currency", p.GetCurrency(), "three capital letters beside a price, empty without one")
	}
	return checkCure(c)
}

func checkCure(c *materialsv1.Cure) error {
	low, nominal, high := c.GetActivationLowKjMol(), c.GetActivationNominalKjMol(), c.GetActivationHighKjMol()
	switch {
	case low > nominal || nominal > high:
		return bad("cure.activation_nominal_kj_mol", nominal, fmt.Sprintf("between low %g and high %g", low, high))
	case c.MinTempC != nil && c.MaxTempC != nil && c.GetMinTempC() > c.GetMaxTempC():
		return bad("cure.max_temp_c", c.GetMaxTempC(), fmt.Sprintf("not below min_temp_c %g", c.GetMinTempC()))
	}
	seen := make(map[floorv1.Coat]bool)
	for i, w := range c.GetOver() {
		at := fmt.Sprintf("cure.over[%d]", i)
		if seen[w.GetCoat()] {
			return bad(at+".coat", floor.Word(w.GetCoat()), "each kind of coat once")
		}
		if seen[w.GetCoat()] = true; w.GetClosesMin() < w.GetOpensMin() {
			return bad(at+".closes_min", w.GetClosesMin(), fmt.Sprintf("not before opens_min %g", w.GetOpensMin()))
		}
	}
	return nil
}

func bad(field string, value any, limit string) error {
	return fault.Bad("product_defined."+field, value, limit)
}
