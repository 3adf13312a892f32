package spec

import (
	"strings"

	"seamwright/services/fault"
)

// Class is what kind of sealer a seam takes. The zero value is unknown.
type Class string

// The sealer classes.
const (
	SelfLevelling Class = "self-levelling" // flows out by itself on a level joint
	MediumBodied  Class = "medium-bodied"  // softens its edge, paintable hem flanges
	HeavyBodied   Class = "heavy-bodied"   // stands as laid, holds brush marks
)

// Build is how thick a self-levelling sealer stands after it has flowed
// out. The zero value is right for the other classes only.
type Build string

// The builds of a self-levelling sealer.
const (
	StandardBuild Build = "standard"
	HighBuild     Build = "high-build"
)

// Profile is the shape of a bead. The zero value is unknown.
type Profile string

// The bead profiles.
const (
	Round    Profile = "round"    // half-round or a flatter circular segment
	Ribbon   Profile = "ribbon"   // flat, from a spreader cut to width
	Step     Profile = "step"     // wedge along a hem flange
	Ripple   Profile = "ripple"   // height swings along the bead
	Brushed  Profile = "brushed"  // brushed out, the marks stay
	Levelled Profile = "levelled" // flowed out flat between two walls
	Fillet   Profile = "fillet"   // triangle in an inside corner
)

// Technique is the way a bead is applied. The zero value is unknown.
type Technique string

// The techniques.
const (
	DirectBead     Technique = "direct-bead"       // straight from the nozzle onto the seam
	TapeEdge       Technique = "tape-edge"         // tape each side, pulled inside the tooling time
	WetBedThenBead Technique = "wet-bed-then-bead" // a thin bed first, the bead into it while wet
	OffPanelBead   Technique = "off-panel-bead"    // set on tape, peeled, back scuffed, pressed into a wet bed
	BrushedOn      Technique = "brushed"           // laid, then brushed out inside the tooling time
)

// WetBed reports whether the technique begins with a wet bed.
func (t Technique) WetBed() bool { return t == WetBedThenBead || t == OffPanelBead }

// Substrate is the surface as prepped. SubstrateUnknown is a word of its
// own so that "nobody looked" can be said.
type Substrate string

// The substrates.
const (
	BareSteel         Substrate = "bare-steel"
	BareAluminium     Substrate = "bare-aluminium"
	ZincCoated        Substrate = "zinc-coated"
	ECoat             Substrate = "e-coat"
	EpoxyPrimer       Substrate = "epoxy-primer"
	DTMUrethanePrimer Substrate = "dtm-urethane-primer" // direct-to-metal urethane primer
	SelfEtchPrimer    Substrate = "self-etch-primer"
	WeldThroughPrimer Substrate = "weld-through-primer"
	CuredTopcoat      Substrate = "cured-topcoat"
	SubstrateUnknown  Substrate = "unknown"
)

// BareMetal reports whether nothing but metal or its zinc is there.
func (s Substrate) BareMetal() bool {
	return s == BareSteel || s == BareAluminium || s == ZincCoated
}

// Orientation is how the joint lies while the sealer is wet.
type Orientation string

// The orientations.
const (
	Level    Orientation = "level"
	Sloped   Orientation = "sloped"
	Vertical Orientation = "vertical"
	Overhead Orientation = "overhead"
)

// Finish says whether the bead is coated afterwards or stays visible.
type Finish string

// The finishes.
const (
	Coated  Finish = "coated"
	Exposed Finish = "exposed" // left as laid, no coat over it
)

// ReferenceSource says where the knowledge of the factory's bead comes from.
type ReferenceSource string

// The sources of a reference, the best first.
const (
	BeforeTearDown ReferenceSource = "before-tear-down"
	RemovedPanel   ReferenceSource = "removed-panel"
	OtherSide      ReferenceSource = "other-side"
	MakersData     ReferenceSource = "makers-data"
	NoReference    ReferenceSource = "none"
)

// Coat is a kind of coat that can be the first one over the sealer.
type Coat string

// The kinds of coat.
const (
	PrimerSurfacer Coat = "primer-surfacer"
	Undercoat      Coat = "undercoat"
	Solventborne   Coat = "solventborne"
	Waterborne     Coat = "waterborne"
)

// Severity is how much a finding weighs: a note goes to the report, a query
// is answered by a foreman before delivery, a stop holds the seam until it
// is answered.
type Severity string

// The severities, rising.
const (
	Note  Severity = "note"
	Query Severity = "query"
	Stop  Severity = "stop"
)

// NozzleKind is the tip that makes a profile.
type NozzleKind string

// The kinds of nozzle tip.
const (
	RoundTip   NozzleKind = "round-tip"   // cut to the bead's width
	Spreader   NozzleKind = "spreader"    // flat tip, cut to the ribbon's width
	GuidedStep NozzleKind = "guided-step" // tip with a fence that rides on the hem
)

// Layer is one pass of material along a seam.
type Layer string

// The layers, in the order they are laid.
const (
	Bed  Layer = "bed"  // thin wet bed that the bead is set into
	Bead Layer = "bead" // the bead itself
)

// The words of each kind in their usual order. They are functions so that
// no caller can change the vocabulary.

// Classes lists the sealer classes.
func Classes() []Class { return []Class{SelfLevelling, MediumBodied, HeavyBodied} }

// Builds lists the builds of a self-levelling sealer.
func Builds() []Build { return []Build{StandardBuild, HighBuild} }

// Profiles lists the bead profiles.
func Profiles() []Profile {
	return []Profile{Round, Ribbon, Step, Ripple, Brushed, Levelled, Fillet}
}

// Techniques lists the techniques.
func Techniques() []Technique {
	return []Technique{DirectBead, TapeEdge, WetBedThenBead, OffPanelBead, BrushedOn}
}

// Substrates lists the substrates, unknown last.
func Substrates() []Substrate {
	return []Substrate{
		BareSteel, BareAluminium, ZincCoated, ECoat, EpoxyPrimer, DTMUrethanePrimer,
		SelfEtchPrimer, WeldThroughPrimer, CuredTopcoat, SubstrateUnknown,
	}
}

// Orientations lists the orientations.
func Orientations() []Orientation { return []Orientation{Level, Sloped, Vertical, Overhead} }

// Finishes lists the finishes.
func Finishes() []Finish { return []Finish{Coated, Exposed} }

// ReferenceSources lists the sources of a reference, the best first.
func ReferenceSources() []ReferenceSource {
	return []ReferenceSource{BeforeTearDown, RemovedPanel, OtherSide, MakersData, NoReference}
}

// Coats lists the kinds of coat.
func Coats() []Coat { return []Coat{PrimerSurfacer, Undercoat, Solventborne, Waterborne} }

// Severities lists the severities, rising.
func Severities() []Severity { return []Severity{Note, Query, Stop} }

// NozzleKinds lists the kinds of nozzle tip.
func NozzleKinds() []NozzleKind { return []NozzleKind{RoundTip, Spreader, GuidedStep} }

// Layers lists the layers in the order they are laid.
func Layers() []Layer { return []Layer{Bed, Bead} }

// Known reports whether w is one of all: Known(c, Classes()).
func Known[W ~string](w W, all []W) bool {
	for _, a := range all {
		if w == a {
			return true
		}
	}
	return false
}

// Word reads one word of a vocabulary: Word("class", "heavy-bodied",
// Classes()). Spaces around it are dropped, nothing else is forgiven. The
// error is a fault of kind Invalid that lists the words allowed.
func Word[W ~string](field, text string, all []W) (W, error) {
	w := W(strings.TrimSpace(text))
	if Known(w, all) {
		return w, nil
	}
	names := make([]string, len(all))
	for i, a := range all {
		names[i] = string(a)
	}
	return "", fault.Bad(field, text, "one of "+strings.Join(names, ", "))
}

// Rank orders severities: 0 for unset, then note, query, stop.
func (s Severity) Rank() int {
	for i, a := range Severities() {
		if s == a {
			return i + 1
		}
	}
	return 0
}
