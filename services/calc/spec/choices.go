package spec

import "strings"

// choice is a rule that decides one aspect of a plan. The rules stand in
// order; the first whose condition holds decides.
type choice struct {
	ID     string
	Aspect Aspect
	When   func(draft) bool
	Pick   func(draft) string
	Reason string
	Basis  string
}

// always picks one word.
func always[W ~string](w W) func(draft) string { return func(draft) string { return string(w) } }

// Bases that several rules share.
const (
	makersManuals = "vehicle makers' service manuals, anti-corrosion treatment: reseal the joints that were sealed"
	theProcedure  = "the recorded procedure"
)

// choices is the starting set of the rules that decide.
func choices() []choice {
	out := classChoices()
	out = append(out, profileChoices()...)
	out = append(out, techniqueChoices()...)
	return append(out, nozzleChoices()...)
}

func classChoices() []choice {
	return []choice{
		{
			"class-by-procedure", AboutClass,
			func(d draft) bool { return d.seam.Procedure != nil && d.seam.Procedure.Class != "" },
			func(d draft) string { return string(d.seam.Procedure.Class) },
			"The recorded procedure names the class and comes before our rules.", theProcedure,
		},
		{
			"class-by-reference", AboutClass,
			func(d draft) bool { return d.seam.Reference.Class != "" },
			func(d draft) string { return string(d.seam.Reference.Class) },
			"The factory used this class here and the repair repeats it.", makersManuals,
		},
		{
			"class-ditch", AboutClass,
			func(d draft) bool {
				return inPlace(d.seam, ditches) && d.seam.Orientation == Level && (d.seam.Reference.Profile == Levelled || d.seam.Reference.Profile == "")
			},
			always(SelfLevelling),
			"A level roof ditch or drip rail is filled by a sealer that flows out flat by itself.", CommonPractice,
		},
		{
			"class-levelled", AboutClass,
			func(d draft) bool { return d.seam.Reference.Profile == Levelled && d.seam.Orientation == Level },
			always(SelfLevelling),
			"A levelled reference on a level joint was made by a sealer that flows out by itself.",
			"ASTM C920 grade P: self-levelling, for horizontal joints",
		},
		{
			"class-exposed", AboutClass,
			func(d draft) bool { return d.seam.Finish == Exposed },
			always(HeavyBodied),
			"A joint left unpainted shows its bead as laid: heavy-bodied, in the reference's colour.", CommonPractice,
		},
		{
			"class-crisp", AboutClass,
			func(d draft) bool { return d.seam.Reference.Profile == Brushed || d.seam.Reference.Profile == Ripple },
			always(HeavyBodied),
			"Brush marks and a crisp shape stay only in a heavy-bodied sealer.", CommonPractice,
		},
		{
			"class-hem", AboutClass,
			func(d draft) bool { return inPlace(d.seam, hems) || d.seam.Reference.Profile == Step },
			always(MediumBodied),
			"A painted hem flange wants the soft edge of a medium-bodied sealer.", CommonPractice,
		},
		{
			"class-floor", AboutClass,
			func(d draft) bool { return inPlace(d.seam, floors) },
			always(HeavyBodied),
			"Floors, rear panels and under-bonnet joints are sealed heavy-bodied: the bead stands as laid.", CommonPractice,
		},
		{
			"class-soft", AboutClass,
			func(d draft) bool {
				r := d.seam.Reference.Profile
				return d.seam.Finish == Coated && (r == Round || r == Ribbon || r == Fillet)
			},
			always(MediumBodied),
			"A painted joint with a soft edge takes a medium-bodied sealer.", CommonPractice,
		},
	}
}

func profileChoices() []choice {
	return []choice{
		{
			"profile-by-procedure", AboutProfile,
			func(d draft) bool { return d.seam.Procedure != nil && d.seam.Procedure.Profile != "" },
			func(d draft) string { return string(d.seam.Procedure.Profile) },
			"The recorded procedure names the profile and comes before our rules.", theProcedure,
		},
		{
			"profile-by-reference", AboutProfile,
			func(d draft) bool { return d.seam.Reference.Profile != "" },
			func(d draft) string { return string(d.seam.Reference.Profile) },
			"The factory laid this profile here and an inspection looks for it.", CommonPractice,
		},
		{
			"profile-levels", AboutProfile,
			func(d draft) bool { return d.class == SelfLevelling },
			always(Levelled),
			"A self-levelling sealer takes no other shape.", CommonPractice,
		},
		{
			"profile-hem", AboutProfile,
			func(d draft) bool { return inPlace(d.seam, hems) },
			always(Step),
			"A hem flange is usually sealed with a step along its edge.", CommonPractice,
		},
	}
}

func techniqueChoices() []choice {
	return []choice{
		{
			"technique-by-procedure", AboutTechnique,
			func(d draft) bool { return d.seam.Procedure != nil && d.seam.Procedure.Technique != "" },
			func(d draft) string { return string(d.seam.Procedure.Technique) },
			"The recorded procedure names the technique and comes before our rules.", theProcedure,
		},
		{
			"technique-ripple-bed", AboutTechnique,
			func(d draft) bool {
				return d.profile == Ripple && (d.seam.Substrate.BareMetal() || unknown(d.seam.Substrate))
			},
			always(WetBedThenBead),
			"A ripple bead straight on bare metal traps air behind it: lay a wet bed first, or set the bead on tape off the panel, peel it, scuff its back and press it into a wet bed.",
			CommonPractice,
		},
		{
			"technique-brush", AboutTechnique,
			func(d draft) bool { return d.profile == Brushed },
			always(BrushedOn),
			"A brushed reference is brushed out inside the tooling time.", CommonPractice,
		},
		{
			"technique-flows", AboutTechnique,
			func(d draft) bool { return d.class == SelfLevelling },
			always(DirectBead),
			"A self-levelling sealer is laid straight into the ditch and flows out.", CommonPractice,
		},
		{
			"technique-step", AboutTechnique,
			func(d draft) bool { return d.profile == Step },
			always(DirectBead),
			"The guided nozzle rides on the hem and lays the step in one pass.", CommonPractice,
		},
		{
			"technique-tape", AboutTechnique,
			func(d draft) bool { return d.class == MediumBodied && d.seam.Finish == Coated },
			always(TapeEdge),
			"Tape pulled inside the tooling time lets the edge of a medium-bodied bead lie down soft.", CommonPractice,
		},
		{
			"technique-direct", AboutTechnique,
			func(d draft) bool { return d.class != "" && d.profile != "" },
			always(DirectBead),
			"The bead goes straight from the nozzle onto the seam and stands as laid.", CommonPractice,
		},
	}
}

func nozzleChoices() []choice {
	return []choice{
		{
			"nozzle-spreader", AboutNozzle,
			func(d draft) bool {
				return d.profile == Ribbon || (d.profile == Brushed && d.seam.Reference.WidthMM >= MinRibbonMM)
			},
			always(Spreader),
			"A ribbon comes from the spreader nozzle cut to its width, 12.7 to 38.1 mm.", CommonPractice,
		},
		{
			"nozzle-guided", AboutNozzle,
			func(d draft) bool { return d.profile == Step },
			always(GuidedStep),
			"A step wants the guided nozzle.", CommonPractice,
		},
		{
			"nozzle-round", AboutNozzle,
			func(d draft) bool { return d.profile != "" },
			always(RoundTip),
			"A round tip cut to the bead's width lays this profile.", CommonPractice,
		},
	}
}

// The widths in mm that a spreader nozzle can be cut to. Common practice,
// no source.
const (
	MinRibbonMM = 12.7
	MaxRibbonMM = 38.1
)

// Words in a place that tell what kind of joint it is.
var (
	ditches = []string{"roof ditch", "drip rail", "roof joint"}
	hems    = []string{"hem"}
	floors  = []string{
		"floor", "rear panel", "strut tower", "apron", "wheelhouse", "spare-wheel", "spare wheel", "boot",
		"bulkhead", "chassis leg", "front panel", "cowl",
	}
	drains = []string{"floor", "sill", "door", "spare-wheel", "spare wheel", "cowl", "tailgate"}
)

// inPlace reports whether the seam's place holds one of the words.
func inPlace(s Seam, words []string) bool {
	place := strings.ToLower(s.Place)
	for _, w := range words {
		if strings.Contains(place, w) {
			return true
		}
	}
	return false
}

func unknown(s Substrate) bool { return s == "" || s == SubstrateUnknown }
