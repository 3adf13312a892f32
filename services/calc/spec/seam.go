package spec

// Lab is a colour in CIE L*a*b* under illuminant D65.
type Lab struct {
	L float64 // lightness, 0 to 100
	A float64 // green to red, -200 to 200
	B float64 // blue to yellow, -200 to 200
}

// Product is what the rules need to know of a sealer.
type Product struct {
	ID         string
	Name       string
	Class      Class
	Build      Build // self-levelling only
	Colour     string
	Lab        *Lab        // nil: not measured
	Substrates []Substrate // what its sheet allows; empty: the sheet does not say
}

// Allows reports whether the product's sheet names the substrate. A sheet
// that names none allows nothing for sure and forbids nothing either: said
// is false then.
func (p Product) Allows(s Substrate) (allowed, said bool) {
	return Known(s, p.Substrates), len(p.Substrates) > 0
}

// Reference is what the factory made of a seam. Zero fields are unknown.
type Reference struct {
	Source   ReferenceSource
	Class    Class
	Profile  Profile
	Colour   string
	Lab      *Lab
	WidthMM  float64
	HeightMM float64
}

// Procedure is the vehicle maker's repair procedure or the product's own
// sheet as the shop recorded it for one seam. What it states decides; the
// rules that it names are set aside.
type Procedure struct {
	Text      string   // what it says in the shop's own words, and where it stands
	Overrides []string // identifiers of the rules that it sets aside

	// What it prescribes; the zero value leaves the choice to the rules.
	Class     Class
	Profile   Profile
	Technique Technique
	ProductID string
}

// SetsAside reports whether the procedure overrides a rule. A nil procedure
// sets nothing aside.
func (p *Procedure) SetsAside(rule string) bool {
	if p == nil {
		return false
	}
	for _, id := range p.Overrides {
		if id == rule {
			return true
		}
	}
	return false
}

// Seam is a joint to be sealed, as surveyed and prepped. Zero fields are
// unknown.
type Seam struct {
	Place       string // panel and joint in words, "roof ditch"
	Orientation Orientation
	Finish      Finish
	Substrate   Substrate
	Reference   Reference
	DrainHoles  bool // drain holes near the seam
	FirstCoat   Coat // first coat that goes over the sealer
	Procedure   *Procedure
	ColourLimit float64 // CIEDE2000 that an exposed bead may differ; 0: DefaultColourLimit
}

// DefaultColourLimit is how far an exposed bead may be from the reference
// in CIEDE2000 unless the shop sets its own limit. Common practice, no
// source: 2 is about where a trained eye sees two neighbouring surfaces
// differ.
const DefaultColourLimit = 2.0
