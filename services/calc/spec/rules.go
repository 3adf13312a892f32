package spec

import (
	"fmt"

	"seamwright/services/calc/climate"
)

// Published texts that rules lean on.
const (
	gradeP       = "ASTM C920 grade P: pourable or self-levelling, for horizontal joints; over which primer: common practice"
	acidPrimer   = "epoxies do not cure over an acid surface (general statement in refinishing literature); for seam sealers: common practice"
	primerFirst  = "vehicle makers' service manuals: bare metal is coated with rust-proof primer before sealer and wax"
	overcoating  = "minimum overcoating time as in coating glossaries; the time itself from the product's sheet"
	dewPointRule = "ISO 8502-4 and coating specifications: surface at least 3 K above the dew point, humidity not above 85 %"
)

// levellingRules are about a sealer that flows out by itself.
func levellingRules() []Rule {
	sl := func(a Application) bool { return a.Product.Class == SelfLevelling }
	return []Rule{
		{
			ID: "sl-bare-metal", Aspect: AboutSubstrate, Severity: Stop, Basis: gradeP,
			Reason: "A self-levelling sealer never goes on bare metal: prime with epoxy or direct-to-metal urethane primer first.",
			when:   func(a Application) bool { return sl(a) && a.Substrate.BareMetal() },
			detail: substrateDetail,
		},
		{
			ID: "sl-self-etch", Aspect: AboutSubstrate, Severity: Stop, Basis: acidPrimer,
			Reason: "A self-levelling sealer never goes on self-etch primer: its acid hinders the cure.",
			when:   func(a Application) bool { return sl(a) && a.Substrate == SelfEtchPrimer },
		},
		{
			ID: "sl-other-substrate", Aspect: AboutSubstrate, Severity: Query, Basis: CommonPractice,
			Reason: "A self-levelling sealer goes only over epoxy primer or direct-to-metal urethane primer.",
			when: func(a Application) bool {
				return sl(a) && (a.Substrate == ECoat || a.Substrate == WeldThroughPrimer || a.Substrate == CuredTopcoat)
			},
			detail: substrateDetail,
		},
		{
			ID: "sl-not-level", Aspect: AboutOrientation, Severity: Stop, Basis: gradeP,
			Reason: "A self-levelling sealer runs out of a joint that is not level: take a bodied sealer or turn the panel.",
			when: func(a Application) bool {
				return sl(a) && (a.Orientation == Sloped || a.Orientation == Vertical || a.Orientation == Overhead)
			},
			detail: func(a Application) string { return fmt.Sprintf("The joint is %s.", a.Orientation) },
		},
		{
			ID: "orientation-unknown", Aspect: AboutOrientation, Severity: Query, Basis: CommonPractice,
			Reason: "How the joint lies is unknown, and a self-levelling sealer needs a level one.",
			when:   func(a Application) bool { return sl(a) && a.Orientation == "" },
		},
		{
			ID: "sl-holds-no-shape", Aspect: AboutProfile, Severity: Query, Basis: CommonPractice,
			Reason: "A self-levelling sealer holds no shape but a levelled one.",
			when:   func(a Application) bool { return sl(a) && a.Profile != "" && a.Profile != Levelled },
			detail: profileDetail,
		},
		{
			ID: "levelled-needs-sl", Aspect: AboutProfile, Severity: Query, Basis: CommonPractice,
			Reason: "Only a self-levelling sealer flows out to a levelled profile.",
			when:   func(a Application) bool { return a.bodied() && a.Profile == Levelled },
		},
	}
}

// shapeRules are about profile, technique and nozzle.
func shapeRules() []Rule {
	return []Rule{
		{
			ID: "ripple-bare-metal", Aspect: AboutTechnique, Severity: Stop, Basis: CommonPractice,
			Reason: "A ripple bead straight on bare metal traps air behind it: lay it into a wet bed.",
			when: func(a Application) bool {
				return a.Profile == Ripple && a.Substrate.BareMetal() && a.Technique != "" && !a.Technique.WetBed()
			},
			detail: substrateDetail,
		},
		{
			ID: "brushed-needs-heavy", Aspect: AboutClass, Severity: Query, Basis: CommonPractice,
			Reason: "Only a heavy-bodied sealer holds brush marks.",
			when:   func(a Application) bool { return a.Profile == Brushed && a.Product.Class == MediumBodied },
		},
		{
			ID: "exposed-needs-heavy", Aspect: AboutClass, Severity: Query, Basis: CommonPractice,
			Reason: "A joint left unpainted is sealed heavy-bodied unless the factory did it otherwise.",
			when: func(a Application) bool {
				c := a.Product.Class
				return a.Finish == Exposed && c != "" && c != HeavyBodied && c != a.Reference.Class
			},
		},
		{
			ID: "ribbon-width", Aspect: AboutNozzle, Severity: Note, Basis: CommonPractice,
			Reason: "A spreader nozzle makes a ribbon of 12.7 to 38.1 mm: lay another width in passes or with another tip.",
			when: func(a Application) bool {
				return a.Profile == Ribbon && a.WidthMM > 0 && (a.WidthMM < MinRibbonMM || a.WidthMM > MaxRibbonMM)
			},
			detail: func(a Application) string { return fmt.Sprintf("This one is %g mm.", a.WidthMM) },
		},
		{
			ID: "step-nozzle", Aspect: AboutNozzle, Severity: Note, Basis: CommonPractice,
			Reason: "A step profile wants the guided nozzle.",
			when:   func(a Application) bool { return a.Profile == Step && a.Nozzle != "" && a.Nozzle != GuidedStep },
		},
		{
			ID: "ribbon-nozzle", Aspect: AboutNozzle, Severity: Note, Basis: CommonPractice,
			Reason: "A ribbon wants the spreader nozzle cut to its width.",
			when:   func(a Application) bool { return a.Profile == Ribbon && a.Nozzle != "" && a.Nozzle != Spreader },
		},
	}
}

// substrateRules are about what a bead lies on.
func substrateRules() []Rule {
	return []Rule{
		{
			ID: "substrate-unknown", Aspect: AboutSubstrate, Severity: Query, Basis: CommonPractice,
			Reason: "What the bead lies on is unknown: look before material is opened.",
			when:   func(a Application) bool { return unknown(a.Substrate) },
		},
		{
			ID: "substrate-not-on-sheet", Aspect: AboutSubstrate, Severity: Query, Basis: "the product's sheet",
			Reason: "The product's sheet does not name this substrate.",
			when: func(a Application) bool {
				allowed, said := a.Product.Allows(a.Substrate)
				return said && !allowed && !unknown(a.Substrate)
			},
			detail: substrateDetail,
		},
		{
			ID: "self-etch-under-sealer", Aspect: AboutSubstrate, Severity: Query, Basis: acidPrimer,
			Reason: "Sealer over self-etch primer is doubtful: ask its sheet, or seal the acid in with epoxy primer.",
			when:   func(a Application) bool { return a.bodied() && a.Substrate == SelfEtchPrimer },
		},
		{
			ID: "weld-through-under-sealer", Aspect: AboutSubstrate, Severity: Query, Basis: CommonPractice,
			Reason: "Weld-through primer holds sealer badly: take it off beside the weld and prime before sealing.",
			when:   func(a Application) bool { return a.bodied() && a.Substrate == WeldThroughPrimer },
		},
		{
			ID: "topcoat-scuff", Aspect: AboutSubstrate, Severity: Note, Basis: "maximum overcoating time as in coating glossaries: a cured coat is abraded first",
			Reason: "Cured topcoat is scuffed and cleaned before sealer goes on.",
			when:   func(a Application) bool { return a.Substrate == CuredTopcoat },
		},
		{
			ID: "bare-metal-exposed", Aspect: AboutSubstrate, Severity: Query, Basis: primerFirst,
			Reason: "An exposed bead on bare metal leaves the metal beside it without a coat: prime first.",
			when: func(a Application) bool {
				return a.bodied() && a.Finish == Exposed && a.Substrate.BareMetal()
			},
			detail: substrateDetail,
		},
		{
			ID: "bare-metal-coated", Aspect: AboutSubstrate, Severity: Note, Basis: primerFirst,
			Reason: "Medium- and heavy-bodied sealers may go on bare metal, but the metal beside the bead must be primed.",
			when: func(a Application) bool {
				return a.bodied() && a.Finish == Coated && a.Substrate.BareMetal()
			},
			detail: substrateDetail,
		},
		{
			ID: "waterborne-waits", Aspect: AboutSubstrate, Severity: Note, Basis: overcoating,
			Reason: "A waterborne first coat waits for its own time in the product's sheet.",
			when:   func(a Application) bool { return a.Finish == Coated && a.FirstCoat == Waterborne },
		},
	}
}

// surfaceRules are about the air and the surface when laying.
func surfaceRules() []Rule {
	return []Rule{
		{
			ID: "near-dew-point", Aspect: AboutSurface, Severity: Query, Basis: dewPointRule,
			Reason: "The surface was less than 3 K above the dew point when the bead was laid.",
			when:   func(a Application) bool { return a.MarginK != nil && !climate.Clear(*a.MarginK) },
			detail: func(a Application) string { return fmt.Sprintf("It was %.1f K.", *a.MarginK) },
		},
		{
			ID: "humid-air", Aspect: AboutSurface, Severity: Query, Basis: dewPointRule,
			Reason: "The air was above 85 % relative humidity when the bead was laid.",
			when:   func(a Application) bool { return a.RHPercent != nil && *a.RHPercent > climate.MaxRHPercent },
			detail: func(a Application) string { return fmt.Sprintf("It was %.0f %%.", *a.RHPercent) },
		},
	}
}

func substrateDetail(a Application) string { return fmt.Sprintf("The substrate is %s.", a.Substrate) }

func profileDetail(a Application) string { return fmt.Sprintf("The profile is %s.", a.Profile) }
