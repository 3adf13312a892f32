package intake

import (
	"io"
	"math"
	"regexp"

	"seamwright/services/calc/spec"
)

// Product is one product file. Zero and nil fields are unknown.
type Product struct {
	ID             string
	Name           string
	Class          spec.Class
	Build          spec.Build // self-levelling only: standard unless the file says high-build
	Colour         string
	Lab            *spec.Lab
	CartridgeML    float64
	MixRatio       string
	Price          string // per cartridge, a decimal; empty: not given
	Currency       string // ISO 4217 code
	ShelfLifeDays  float64
	OpenedLifeDays float64
	LeadTimeDays   float64
	Substrates     []spec.Substrate // empty: the sheet does not say
	Cure           Cure
}

// Spec is what the rules of what goes on a seam need to know of it.
func (p Product) Spec() spec.Product {
	return spec.Product{
		ID: p.ID, Name: p.Name, Class: p.Class, Build: p.Build,
		Colour: p.Colour, Lab: p.Lab, Substrates: p.Substrates,
	}
}

var (
	ratioForm    = regexp.MustCompile(`^[1-9][0-9]{0,2}(\.[0-9]{1,2})?:[1-9][0-9]{0,2}(\.[0-9]{1,2})?$`)
	amountForm   = regexp.MustCompile(`^(0|[1-9][0-9]{0,8})(\.[0-9]{1,4})?$`)
	currencyForm = regexp.MustCompile(`^[A-Z]{3}$`)
)

// ReadProduct reads a product file (YAML). Required are id, class,
// cartridge_ml and the cure times; the name is the id unless given.
func ReadProduct(name string, r io.Reader) (Product, error) {
	s := &sheet{name: name}
	data, err := s.slurp(r, MaxYAMLBytes)
	if err != nil {
		return Product{}, err
	}
	if data == nil {
		return Product{}, s.err()
	}
	m := s.mapping(data, "id", "name", "class", "build", "colour", "cartridge_ml", "mix_ratio", "price",
		"shelf_life_days", "opened_life_days", "lead_time_days", "substrates", "cure")
	if m == nil {
		return Product{}, s.err()
	}
	p := readProduct(m)
	if err := s.err(); err != nil {
		return Product{}, err
	}
	return p, nil
}

func readProduct(m *mapping) Product {
	days := span{lo: 0, hi: 36500, unit: "days"}
	p := Product{ID: m.id("id"), Name: m.text("name", 80)}
	if p.Name == "" {
		p.Name = p.ID
	}
	if m.need("class", oneOf(spec.Classes())) {
		p.Class = word(m, "class", spec.Classes())
	}
	p.Build = readBuild(m, p.Class)
	p.CartridgeML = m.needNumber("cartridge_ml", span{above: true, hi: 10000, unit: "ml"})
	p.MixRatio = m.matching("mix_ratio", ratioForm, `a ratio by volume like "1:1"`)
	if c := m.sub("colour", "name", "lab"); c != nil {
		p.Colour = c.text("name", 60)
		if v := c.numbers("lab", labL, labAB, labAB); v != nil {
			p.Lab = lab([3]float64(v))
		}
	}
	if c := m.sub("price", "amount", "currency"); c != nil {
		if c.need("amount", "a decimal") && c.need("currency", "three letters") {
			p.Price = c.matching("amount", amountForm, `a decimal from 0 like "31.50", at most four places`)
			p.Currency = c.matching("currency", currencyForm, "three capital letters (ISO 4217) like USD")
		}
	}
	p.ShelfLifeDays, _ = m.number("shelf_life_days", days)
	p.OpenedLifeDays, _ = m.number("opened_life_days", days)
	p.LeadTimeDays, _ = m.number("lead_time_days", span{lo: 0, hi: 3650, unit: "days"})
	known := spec.Substrates()
	p.Substrates = words(m, "substrates", known[:len(known)-1]) // a sheet cannot allow "unknown"
	p.Cure = readCure(m, p.Class)
	return p
}

// readBuild reads the build. "standard" is harmless on the other classes
// and dropped there; high-build is theirs never.
func readBuild(m *mapping, class spec.Class) spec.Build {
	b := word(m, "build", spec.Builds())
	switch {
	case class == spec.SelfLevelling && b == "":
		return spec.StandardBuild
	case class == spec.SelfLevelling:
		return b
	case b == spec.HighBuild && class != "":
		m.s.bad(m.lineOf("build"), "build", string(b), "high-build for self-levelling products only; take it out")
	}
	return ""
}

// gasConstant in J/(mol K), CODATA 2018; zero is 0 °C in kelvin.
const (
	gasConstant = 8.314462618
	zeroKelvin  = 273.15
)

// energyOfDoubling is the activation energy in kJ/mol of a rate that
// doubles from ref to ref + k: Ea = R ln 2 Tref (Tref + K) / K.
func energyOfDoubling(refC, k float64) float64 {
	t := refC + zeroKelvin
	return gasConstant * math.Ln2 * t * (t + k) / k / 1000
}
