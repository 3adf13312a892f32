package spec

// caution is a sentence for the person at the seam, shown when it applies.
type caution struct {
	When  func(draft) bool
	Text  string
	Basis string
}

func everySeam(draft) bool { return true }

// cautionTable holds the cautions in the order they are shown.
func cautionTable() []caution {
	return []caution{
		{
			everySeam,
			"Gloves, eye protection, ventilation: read sections 2, 4, 7 and 8 of the safety data sheet; two-part sealers can sensitise skin and lungs.",
			"29 CFR 1910.1200 appendix D; NIOSH on isocyanates and asthma",
		},
		{
			everySeam,
			"The vehicle maker's repair procedure and local codes come first.",
			CommonPractice,
		},
		{
			everySeam,
			"Lay only with the surface at least 3 K above the dew point and the air not above 85 % relative humidity.",
			dewPointRule,
		},
		{
			func(d draft) bool { return d.seam.DrainHoles || inPlace(d.seam, drains) },
			"Keep the drain holes open.",
			"a vehicle maker's paint and coatings introduction (warning)",
		},
		{
			func(d draft) bool { return d.class == SelfLevelling },
			"Remove trapped air with gentle heat after laying: keep the heat gun moving, away from solvent and its vapour.",
			CommonPractice,
		},
		{
			func(d draft) bool { return d.class == SelfLevelling && d.seam.Finish == Coated },
			"No coat before it has flowed out: about 15 minutes, the product's sheet decides.",
			CommonPractice,
		},
		{
			func(d draft) bool { return d.technique == TapeEdge },
			"Pull the tape inside the tooling time.",
			CommonPractice,
		},
		{
			func(d draft) bool { return d.technique == BrushedOn },
			"Brush inside the tooling time.",
			CommonPractice,
		},
		{
			func(d draft) bool { return d.technique == WetBedThenBead },
			"Lay the bead while the bed is wet; or set it on tape off the panel, peel it, scuff its back and press it into the bed.",
			CommonPractice,
		},
		{
			func(d draft) bool { return d.technique == OffPanelBead },
			"Let the bead set on its tape, peel it, scuff its back and press it into a wet bed.",
			CommonPractice,
		},
		{
			func(d draft) bool { return d.seam.Substrate == CuredTopcoat },
			"Scuff and clean the cured topcoat first.",
			CommonPractice,
		},
		{
			func(d draft) bool { return d.seam.Finish == Coated },
			"Cavity wax goes on last, after the paint.",
			"a vehicle maker's workshop manual, corrosion prevention and sealing",
		},
	}
}

func cautions(d draft) []string {
	out := []string{}
	for _, c := range cautionTable() {
		if c.When(d) {
			out = append(out, c.Text)
		}
	}
	return out
}
