package spec

// shelf is an invented shop's set of products.
func shelf() []Product {
	bodied := []Substrate{BareSteel, BareAluminium, ZincCoated, ECoat, EpoxyPrimer, DTMUrethanePrimer, CuredTopcoat}
	level := []Substrate{EpoxyPrimer, DTMUrethanePrimer}
	return []Product{
		{ID: "sl-grey", Class: SelfLevelling, Build: StandardBuild, Colour: "grey", Lab: &Lab{L: 62}, Substrates: level},
		{ID: "sl-high", Class: SelfLevelling, Build: HighBuild, Colour: "grey", Lab: &Lab{L: 60}, Substrates: level},
		{ID: "mb-beige", Class: MediumBodied, Colour: "beige", Lab: &Lab{L: 80, A: 2, B: 14}, Substrates: bodied},
		{ID: "mb-grey", Class: MediumBodied, Colour: "grey", Lab: &Lab{L: 60, A: 0, B: -1}, Substrates: bodied},
		{ID: "hb-white", Class: HeavyBodied, Colour: "white", Lab: &Lab{L: 94, A: -0.8, B: 2.1}, Substrates: bodied},
		{ID: "hb-black", Class: HeavyBodied, Colour: "black", Lab: &Lab{L: 18}, Substrates: bodied},
	}
}

func ref(c Class, p Profile) Reference {
	return Reference{Source: BeforeTearDown, Class: c, Profile: p, Colour: "white", Lab: &Lab{L: 93.5, A: -0.6, B: 2}}
}

// The cases follow the starting set of rules (common practice, no source,
// unless the rule says otherwise).
var planCases = []struct {
	name      string
	seam      Seam
	class     Class
	product   string
	profile   Profile
	technique Technique
	nozzle    string
	layers    []Layer
	rules     []string // reasons that must be given
	undecided bool
}{
	{
		"roof ditch",
		Seam{Place: "Roof ditch", Orientation: Level, Finish: Coated, Substrate: EpoxyPrimer, Reference: Reference{Source: BeforeTearDown, Profile: Levelled, WidthMM: 14, HeightMM: 2}},
		SelfLevelling, "sl-grey", Levelled, DirectBead, "round tip cut at 14 mm",
		[]Layer{Bead},
		[]string{"class-ditch", "profile-by-reference", "technique-flows", "nozzle-round"},
		false,
	},
	{
		"deep ditch",
		Seam{Place: "drip rail", Orientation: Level, Finish: Coated, Substrate: DTMUrethanePrimer, Reference: Reference{Source: OtherSide, HeightMM: 4}},
		SelfLevelling, "sl-high", Levelled, DirectBead, "round tip",
		[]Layer{Bead},
		[]string{"class-ditch", "profile-levels"},
		false,
	},
	{
		"levelled elsewhere",
		Seam{Place: "quarter to roof", Orientation: Level, Finish: Coated, Substrate: EpoxyPrimer, Reference: Reference{Source: OtherSide, Profile: Levelled}},
		SelfLevelling, "sl-grey", Levelled, DirectBead, "round tip",
		[]Layer{Bead},
		[]string{"class-levelled"},
		false,
	},
	{
		"ditch on bare steel",
		Seam{Place: "roof ditch", Orientation: Level, Finish: Coated, Substrate: BareSteel, Reference: ref(SelfLevelling, Levelled)},
		SelfLevelling, "", Levelled, DirectBead, "round tip",
		[]Layer{Bead},
		[]string{"class-by-reference"},
		true,
	},
	{
		"levelled but sloped",
		Seam{Place: "roof ditch", Orientation: Sloped, Finish: Coated, Substrate: EpoxyPrimer, Reference: ref(SelfLevelling, Levelled)},
		SelfLevelling, "sl-grey", Levelled, DirectBead, "round tip",
		[]Layer{Bead},
		[]string{"class-by-reference"},
		true,
	},
	{
		"ditch that slopes, bead unknown",
		Seam{Place: "roof ditch", Orientation: Sloped, Finish: Coated, Substrate: EpoxyPrimer, Reference: Reference{Source: OtherSide}},
		"", "", "", "", "",
		[]Layer{},
		nil, true,
	},
	{
		"levelled on a slope, class unknown",
		Seam{Place: "quarter to roof", Orientation: Sloped, Finish: Coated, Substrate: EpoxyPrimer, Reference: Reference{Source: OtherSide, Profile: Levelled}},
		"", "", Levelled, "", "round tip",
		[]Layer{},
		nil, true,
	},
	{
		"door hem",
		Seam{Place: "Door hem", Orientation: Vertical, Finish: Coated, Substrate: ECoat, Reference: Reference{Source: OtherSide}},
		MediumBodied, "mb-grey", Step, DirectBead, "guided step nozzle",
		[]Layer{Bead},
		[]string{"class-hem", "profile-hem", "technique-step", "nozzle-guided"},
		false,
	},
	{
		"painted soft edge",
		Seam{Place: "sill to quarter", Orientation: Vertical, Finish: Coated, Substrate: ECoat, Reference: Reference{Source: OtherSide, Profile: Round, WidthMM: 8}},
		MediumBodied, "mb-grey", Round, TapeEdge, "round tip cut at 8 mm",
		[]Layer{Bead},
		[]string{"class-soft", "technique-tape"},
		false,
	},
	{
		"exposed joint",
		Seam{Place: "tail lamp pocket", Orientation: Vertical, Finish: Exposed, Substrate: ECoat, Reference: ref("", Round)},
		HeavyBodied, "hb-white", Round, DirectBead, "round tip",
		[]Layer{Bead},
		[]string{"class-exposed", "technique-direct", "product-fits"},
		false,
	},
	{
		"exposed in another colour",
		Seam{Place: "boot floor joint", Orientation: Level, Finish: Exposed, Substrate: ECoat, Reference: Reference{Source: BeforeTearDown, Class: HeavyBodied, Profile: Round, Lab: &Lab{L: 55, A: 10, B: 30}}},
		HeavyBodied, "hb-white", Round, DirectBead, "round tip",
		[]Layer{Bead},
		[]string{"product-fits"},
		true,
	},
	{
		"exposed, colour unknown",
		Seam{Place: "boot floor joint", Orientation: Level, Finish: Exposed, Substrate: ECoat, Reference: Reference{Source: BeforeTearDown, Class: HeavyBodied, Profile: Round}},
		HeavyBodied, "", Round, DirectBead, "round tip",
		[]Layer{Bead},
		nil, true,
	},
	{
		"rear panel, brushed",
		Seam{Place: "Rear panel to floor", Orientation: Level, Finish: Coated, Substrate: ECoat, Reference: Reference{Source: BeforeTearDown, Profile: Brushed, WidthMM: 25}},
		HeavyBodied, "hb-black", Brushed, BrushedOn, "spreader cut at 25 mm",
		[]Layer{Bead},
		[]string{"class-crisp", "technique-brush", "nozzle-spreader"},
		false,
	},
	{
		"strut tower",
		Seam{Place: "Strut tower", Orientation: Sloped, Finish: Coated, Substrate: EpoxyPrimer, Reference: Reference{Source: OtherSide, Profile: Round}},
		HeavyBodied, "hb-black", Round, DirectBead, "round tip",
		[]Layer{Bead},
		[]string{"class-floor"},
		false,
	},
	{
		"apron ripple on zinc",
		Seam{Place: "Apron upper", Orientation: Vertical, Finish: Coated, Substrate: ZincCoated, Reference: ref(HeavyBodied, Ripple)},
		HeavyBodied, "hb-white", Ripple, WetBedThenBead, "round tip",
		[]Layer{Bed, Bead},
		[]string{"technique-ripple-bed"},
		false,
	},
	{
		"hidden seam",
		Seam{Place: "inner wheel housing", Finish: Coated, Reference: Reference{Source: NoReference}},
		"", "", "", "", "",
		[]Layer{},
		nil, true,
	},
	{
		"self-etch under floor joint",
		Seam{Place: "floor joint", Orientation: Level, Finish: Coated, Substrate: SelfEtchPrimer, Reference: ref(HeavyBodied, Round)},
		HeavyBodied, "", Round, DirectBead, "round tip",
		[]Layer{Bead},
		nil, true,
	},
	{
		"procedure decides",
		Seam{
			Place: "roof ditch", Orientation: Level, Finish: Coated, Substrate: ECoat, Reference: ref(SelfLevelling, Levelled),
			Procedure: &Procedure{Text: "repair procedure, section 5", Class: MediumBodied, Profile: Ribbon, Technique: DirectBead, ProductID: "mb-beige"},
		},
		MediumBodied, "mb-beige", Ribbon, DirectBead, "spreader",
		[]Layer{Bead},
		[]string{"class-by-procedure", "profile-by-procedure", "technique-by-procedure", "product-by-procedure"},
		false,
	},
	{
		"procedure names a product that the shop has not",
		Seam{
			Place: "floor joint", Orientation: Level, Finish: Coated, Substrate: ECoat, Reference: ref(HeavyBodied, Round),
			Procedure: &Procedure{Text: "sheet", ProductID: "other"},
		},
		HeavyBodied, "", Round, DirectBead, "round tip",
		[]Layer{Bead},
		nil, true,
	},
}
