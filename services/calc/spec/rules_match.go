package spec

import (
	"fmt"
	"strings"
)

// Matching the undamaged side in profile, texture, width and colour is
// common practice; sources say only that sealed joints are sealed again.
const matching = makersManuals + "; that the bead looks the same: common practice"

// colourRules are about what is seen in the end.
func colourRules() []Rule {
	exposed := func(a Application) bool { return a.Finish == Exposed && a.Product.ID != "" }
	return []Rule{
		{
			ID: "colour-exposed", Aspect: AboutColour, Severity: Query, Basis: "CIE 142, ISO/CIE 11664-6 (CIEDE2000); the limit is the shop's: common practice",
			Reason: "The bead stays exposed and its colour differs from the reference by more than the shop's limit.",
			when: func(a Application) bool {
				return exposed(a) && sameColour(a.Reference, a.Product) == colourMeasured && distance(a.Reference, a.Product) > a.limit()
			},
			detail: func(a Application) string {
				return fmt.Sprintf("CIEDE2000 is %.1f, the limit %.1f.", distance(a.Reference, a.Product), a.limit())
			},
		},
		{
			ID: "colour-exposed-unknown", Aspect: AboutColour, Severity: Query, Basis: matching,
			Reason: "The bead stays exposed and nobody knows that its colour is the reference's: measure or compare.",
			when:   func(a Application) bool { return exposed(a) && sameColour(a.Reference, a.Product) == colourUnknown },
		},
		{
			ID: "colour-not-planned", Aspect: AboutColour, Severity: Query, Basis: matching,
			Reason: "The bead stays exposed and has another colour than planned.",
			when:   func(a Application) bool { return a.Finish == Exposed && otherColour(a) },
			detail: colourDetail,
		},
		{
			ID: "colour-under-paint", Aspect: AboutColour, Severity: Note, Basis: CommonPractice,
			Reason: "The bead has another colour than planned; under paint any neutral one will do.",
			when:   func(a Application) bool { return a.Finish == Coated && otherColour(a) },
			detail: colourDetail,
		},
		{
			ID: "colour-strong", Aspect: AboutColour, Severity: Note, Basis: CommonPractice,
			Reason: "A strongly coloured sealer may show through the paint: a neutral one is safer.",
			when:   func(a Application) bool { return a.Finish == Coated && !neutral(a.Product) },
		},
	}
}

func otherColour(a Application) bool {
	return a.Planned != nil && a.Planned.Colour != "" && a.Product.Colour != "" &&
		!strings.EqualFold(a.Planned.Colour, a.Product.Colour)
}

func colourDetail(a Application) string {
	return fmt.Sprintf("Planned %s, laid %s.", a.Planned.Colour, a.Product.Colour)
}

// planRules compare the bead with the factory's and with the plan.
func planRules() []Rule {
	return []Rule{
		{
			ID: "no-reference", Aspect: AboutReference, Severity: Note, Basis: matching,
			Reason: "There is no factory reference for this seam: look at the removed panel, the other side or the maker's data.",
			when: func(a Application) bool {
				return a.Finish != Exposed && (a.Reference.Source == NoReference || a.Reference.Source == "")
			},
		},
		{
			ID: "no-reference-exposed", Aspect: AboutReference, Severity: Query, Basis: matching,
			Reason: "There is no factory reference for this seam and its bead stays exposed: look at the removed panel, the other side or the maker's data.",
			when: func(a Application) bool {
				return a.Finish == Exposed && (a.Reference.Source == NoReference || a.Reference.Source == "")
			},
		},
		{
			ID: "class-not-reference", Aspect: AboutClass, Severity: Query, Basis: matching,
			Reason: "The sealer is of another class than the factory's.",
			when:   func(a Application) bool { return differs(a.Reference.Class, a.Product.Class) },
			detail: func(a Application) string {
				return fmt.Sprintf("Factory %s, here %s.", a.Reference.Class, a.Product.Class)
			},
		},
		{
			ID: "profile-not-reference", Aspect: AboutProfile, Severity: Query, Basis: matching,
			Reason: "The bead has another profile than the factory's.",
			when:   func(a Application) bool { return differs(a.Reference.Profile, a.Profile) },
			detail: func(a Application) string {
				return fmt.Sprintf("Factory %s, here %s.", a.Reference.Profile, a.Profile)
			},
		},
		{
			ID: "class-not-planned", Aspect: AboutClass, Severity: Query, Basis: CommonPractice,
			Reason: "The sealer is of another class than planned.",
			when:   func(a Application) bool { return a.Planned != nil && differs(a.Planned.Class, a.Product.Class) },
			detail: func(a Application) string {
				return fmt.Sprintf("Planned %s, laid %s.", a.Planned.Class, a.Product.Class)
			},
		},
		{
			ID: "profile-not-planned", Aspect: AboutProfile, Severity: Query, Basis: CommonPractice,
			Reason: "The bead has another profile than planned.",
			when:   func(a Application) bool { return a.Planned != nil && differs(a.Planned.Profile, a.Profile) },
			detail: func(a Application) string {
				return fmt.Sprintf("Planned %s, laid %s.", a.Planned.Profile, a.Profile)
			},
		},
		{
			ID: "bed-missing", Aspect: AboutTechnique, Severity: Query, Basis: CommonPractice,
			Reason: "A wet bed was planned under this bead and none was laid.",
			when: func(a Application) bool {
				return a.Planned != nil && a.Planned.Technique.WetBed() && a.Technique != "" && !a.Technique.WetBed()
			},
		},
		{
			ID: "technique-not-planned", Aspect: AboutTechnique, Severity: Note, Basis: CommonPractice,
			Reason: "The bead was laid with another technique than planned.",
			when:   func(a Application) bool { return a.Planned != nil && differs(a.Planned.Technique, a.Technique) },
			detail: func(a Application) string {
				return fmt.Sprintf("Planned %s, laid %s.", a.Planned.Technique, a.Technique)
			},
		},
		{
			ID: "product-not-planned", Aspect: AboutProduct, Severity: Note, Basis: CommonPractice,
			Reason: "Another product was laid than planned.",
			when:   func(a Application) bool { return a.Planned != nil && differs(a.Planned.ProductID, a.Product.ID) },
			detail: func(a Application) string {
				return fmt.Sprintf("Planned %s, laid %s.", a.Planned.ProductID, a.Product.ID)
			},
		},
	}
}

// differs reports whether both words are known and not the same.
func differs[W ~string](a, b W) bool { return a != "" && b != "" && a != b }
