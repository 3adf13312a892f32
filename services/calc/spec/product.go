package spec

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

// highBuildMM is the depth from which a self-levelling sealer should be the
// high-build one. Common practice, no source.
const highBuildMM = 3.0

// neutralChroma is the CIE chroma up to which a sealer counts as neutral
// under paint. Common practice, no source.
const neutralChroma = 10.0

// choose picks the product and writes down why. The zero product, with the
// plan's class, means that none is settled.
func (p *Plan) choose(d draft, products []Product) Product {
	none := Product{Class: d.class}
	if d.seam.Procedure != nil && d.seam.Procedure.ProductID != "" {
		return p.prescribed(d, products)
	}
	if d.class == "" {
		return none
	}
	fit := p.candidates(d, products)
	if len(fit) == 0 {
		return none
	}
	slices.SortFunc(fit, func(a, b Product) int { return compare(d.seam, a, b) })
	best := fit[0]
	if d.seam.Finish == Exposed && sameColour(d.seam.Reference, best) == colourUnknown {
		p.undecided("product: the bead stays exposed and no " + string(d.class) + " product is known to match the reference's colour")
		return none
	}
	p.ProductID = best.ID
	p.because("product-fits", p.productReason(d, best), CommonPractice)
	return best
}

// prescribed takes the product that the procedure names.
func (p *Plan) prescribed(d draft, products []Product) Product {
	id := d.seam.Procedure.ProductID
	for _, c := range products {
		if c.ID != id {
			continue
		}
		p.ProductID = c.ID
		p.because("product-by-procedure", "The recorded procedure names the product and comes before our rules.", theProcedure)
		if d.class == "" {
			p.Class = c.Class
		} else if c.Class != d.class {
			p.undecided(fmt.Sprintf("product: the procedure names %s, which is %s, and the plan's class is %s", c.ID, c.Class, d.class))
		}
		return c
	}
	p.undecided(fmt.Sprintf("product: the procedure names %q, which is not among the shop's products", id))
	return Product{Class: d.class}
}

// candidates are the products of the class whose sheet does not rule the
// substrate out.
func (p *Plan) candidates(d draft, products []Product) []Product {
	var class, fit []Product
	for _, c := range products {
		if c.Class != d.class {
			continue
		}
		class = append(class, c)
		if allowed, said := c.Allows(d.seam.Substrate); allowed || !said || unknown(d.seam.Substrate) {
			fit = append(fit, c)
		}
	}
	switch {
	case len(class) == 0:
		p.undecided("product: no " + string(d.class) + " product in the shop")
	case len(fit) == 0:
		p.undecided(fmt.Sprintf("product: no %s product's sheet allows %s", d.class, d.seam.Substrate))
	}
	return fit
}

// compare orders candidates: the build that suits the depth, then colour,
// then the identifier so that nothing depends on the order of files.
func compare(s Seam, a, b Product) int {
	return cmp.Or(
		cmp.Compare(wrongBuild(s, a), wrongBuild(s, b)),
		cmp.Compare(colourRank(s, a), colourRank(s, b)),
		cmp.Compare(distance(s.Reference, a), distance(s.Reference, b)),
		cmp.Compare(a.ID, b.ID),
	)
}

// wrongBuild is 1 for a build that does not suit the depth of a levelled
// bead.
func wrongBuild(s Seam, p Product) int {
	if p.Class != SelfLevelling {
		return 0
	}
	deep := s.Reference.HeightMM >= highBuildMM
	if deep == (p.Build == HighBuild) {
		return 0
	}
	return 1
}

// colourRank is how well the colour suits: on an exposed seam only a match
// does, under paint a neutral one.
func colourRank(s Seam, p Product) int {
	match := sameColour(s.Reference, p)
	if s.Finish == Exposed {
		return match
	}
	if neutral(p) {
		if match == colourNamed {
			return 0
		}
		return 1
	}
	return 2
}

// neutral reports whether a product is white, grey or black; an unmeasured
// one is taken for neutral.
func neutral(p Product) bool { return p.Lab == nil || math.Hypot(p.Lab.A, p.Lab.B) <= neutralChroma }

// How well a product's colour is known to be the reference's.
const (
	colourMeasured = iota // both were measured
	colourNamed           // the names agree
	colourUnknown
)

func sameColour(r Reference, p Product) int {
	switch {
	case r.Lab != nil && p.Lab != nil:
		return colourMeasured
	case r.Colour != "" && strings.EqualFold(r.Colour, p.Colour):
		return colourNamed
	}
	return colourUnknown
}

// distance in CIEDE2000 from the reference; far when not measured.
func distance(r Reference, p Product) float64 {
	if r.Lab == nil || p.Lab == nil {
		return math.Inf(1)
	}
	return difference(*r.Lab, *p.Lab)
}

// productReason says in one sentence why the product was chosen.
func (p *Plan) productReason(d draft, best Product) string {
	text := fmt.Sprintf("%s is %s", best.ID, best.Class)
	if best.Build == HighBuild {
		text += ", high-build"
	}
	if allowed, _ := best.Allows(d.seam.Substrate); allowed {
		text += fmt.Sprintf(", its sheet allows %s", d.seam.Substrate)
	}
	switch {
	case d.seam.Finish == Exposed && d.seam.Reference.Lab != nil && best.Lab != nil:
		text += fmt.Sprintf(" and it is nearest in colour, %.1f in CIEDE2000", distance(d.seam.Reference, best))
	case d.seam.Finish == Exposed:
		text += " and its colour has the reference's name"
	case neutral(best):
		text += " and under paint a neutral colour will do"
	}
	return text + "."
}

// sortUndecided puts what is open into a fixed order.
func sortUndecided(texts []string) { slices.Sort(texts) }
