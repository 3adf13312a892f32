package screens

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"seamwright/services/fault"
)

// Each kind of action takes the fields named here and no others; what a
// value may be beyond its form is the Source's to say.
var (
	bayKinds = map[Kind][]string{
		DoPlan:          {"product", "profile", "technique", "nozzle", "width_mm", "height_mm", "volume_ml"},
		DoPrep:          {"substrate", "surface_temp_c", "cleaner"},
		DoCoat:          {"coat", "product"},
		DoOpenCartridge: {"lot", "cartridge", "product"},
		DoEqualise:      {"cartridge"},
		DoFitNozzle:     {"cartridge", "nozzle", "cut_mm", "hold_up_ml"},
		DoPurge:         {"cartridge", "volume_ml"},
		DoNozzleOff:     {"cartridge"},
		DoStore:         {"cartridge"},
		DoWeigh:         {"cartridge", "mass_g", "volume_ml", "how"},
		DoEmpty:         {"cartridge"},
		DoLay:           {"cartridge", "nozzle", "technique", "profile", "volume_ml", "width_mm", "height_mm", "length_mm", "minutes"},
		DoLayBed:        {"cartridge", "nozzle", "technique", "volume_ml", "length_mm", "minutes"},
		DoTool:          {"tool"},
		DoDeair:         {"heat"},
		DoDisturbed:     {"reason"},
		DoScuff:         {"grit"},
		DoHeat:          {"minutes", "surface_temp_c"},
		DoRedo:          {"reason"},
		DoWax:           {"product"},
		DoWaterTest:     {"passed", "minutes", "reason"},
		DoInspect:       {"passed", "width_mm", "height_mm", "delta_e", "reason"},
		DoCarMoved:      {"zone"},
		DoElsewhere:     {"stage", "who", "paper"},
		DoDispose:       {"finding", "disposition", "reason", "pin"},
		DoWithdraw:      {"fact", "reason"},
		DoCorrect:       {"fact", "volume_ml", "reason"},
	}
	boothKinds = map[Kind][]string{
		DoRequestPermit: {"load", "confirmed"},
		DoReturnPermit:  {"load", "permit", "reason"},
		DoStartSpray:    {"load", "permit"},
		DoPhase:         {"phase"},
		DoFinishLoad:    {"load"},
		DoOverride:      {"load", "person", "pin", "reason", "minutes"},
		DoBoothFault:    {"reason"},
		DoBoothReset:    {"reason"},
	}
	deskKinds = map[Kind][]string{
		DoPlaceLoad: {"load", "booth", "start", "person", "pin", "reason"},
		DoFreeLoad:  {"load", "person", "pin", "reason"},
	}
)

// everyKind may carry how long ago the fact happened and a note.
var everyKind = []string{"age_min", "note"}

// numbers are the fields that must be read as a finite number.
var numbers = []string{
	"age_min", "surface_temp_c", "volume_ml", "mass_g", "cut_mm", "width_mm", "height_mm", "length_mm", "minutes", "delta_e",
}

var (
	uuidForm = regexp.MustCompile(`^[0-9a-f]{8}-[0-9a-f]{4}-[1-8][0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$`)
	pinForm  = regexp.MustCompile(`^[0-9]{4,12}$`)
)

// longest is how long a text field may be, in characters.
const longest = 300

// check says whether an action is well formed; every field that is not is
// named in the one fault that it returns.
func check(a Action, kinds map[Kind][]string) error {
	var bad []*fault.Error
	allowed, known := kinds[a.Kind]
	if !known {
		bad = append(bad, fault.Bad("kind", quote(string(a.Kind)), "an action of this screen"))
	}
	if !uuidForm.MatchString(a.CommandID) {
		bad = append(bad, fault.Bad("command", quote(a.CommandID), "the command id of a page, a UUID"))
	}
	for _, name := range sortedKeys(a.Fields) {
		if known && !slices.Contains(allowed, name) && !slices.Contains(everyKind, name) {
			bad = append(bad, fault.Bad(name, quote(a.Fields[name]), "not a field of "+string(a.Kind)))
			continue
		}
		if err := checkField(name, a.Fields[name]); err != nil {
			bad = append(bad, err)
		}
	}
	if len(bad) == 0 {
		return nil
	}
	return bad[0].Join(bad[1:]...)
}

func checkField(name, value string) *fault.Error {
	if n := utf8.RuneCountInString(value); n > longest {
		return fault.Bad(name, fmt.Sprintf("%d characters", n), fmt.Sprintf("at most %d", longest))
	}
	if !utf8.ValidString(value) || strings.ContainsFunc(value, unicode.IsControl) {
		return fault.Bad(name, quote(value), "plain text on one line")
	}
	switch {
	case name == "pin" && !pinForm.MatchString(value):
		// A mistyped PIN is not shown again.
		return fault.Bad(name, fmt.Sprintf("%d characters", utf8.RuneCountInString(value)), "4 to 12 digits")
	case slices.Contains(numbers, name):
		v, err := strconv.ParseFloat(value, 64)
		if err != nil || v-v != 0 { // NaN and the infinities differ from themselves
			return fault.Bad(name, quote(value), "a number, like 12.5")
		}
	}
	return nil
}

// quote shows a wrong value, cut short, with its odd characters escaped.
func quote(s string) string {
	const limit = 40
	if r := []rune(s); len(r) > limit {
		s = string(r[:limit]) + "…"
	}
	return strconv.Quote(s)
}

func sortedKeys(m map[string]string) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
