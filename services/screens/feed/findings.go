package feed

import (
	"cmp"
	"regexp"
	"slices"
	"strings"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/calc/spec"
	"seamwright/services/floor"
)

// short is what a rule's finding is in a few words, for the board and the
// lists; the seam's own page has the whole sentence.
var short = map[string]string{
	"nozzle-gelled": "nozzle past gel time when laid", "not-equalised": "laid from a cartridge that was not equalised",
	"not-purged": "laid from a nozzle that was not purged", "lot-out-of-date": "lot past its use-by day", "lot-recalled": "lot recalled",
	"bead-disturbed": "bead disturbed", "undercoat-not-dry": "laid before the undercoat was dry",
	"undercoat-past-recoat": "laid past the undercoat's recoat time", "coat-before-open": "painted before the window was open",
	"coat-after-close": "painted after the window may have closed", "leaks": "leaks", "not-accepted": "not accepted at the inspection",
	"sprayed-without-permit": "sprayed without a permit", "cartridge-unknown": "cartridge not known", "product-unknown": "product not known",
	"not-prepped": "prep was not told", "tooled-late": "tooled late", "opened-life-over": "cartridge open for too long",
	"below-product-temperature": "too cold for the product", "above-product-temperature": "too warm for the product",
}

// shortOf is a finding in a few words.
func shortOf(f *floor.FindingState) string {
	if w, ok := short[f.Rule]; ok {
		return w
	}
	first, _, _ := strings.Cut(f.Reason, ". ")
	first, _, _ = strings.Cut(first, ": ")
	return lower(strings.TrimSuffix(first, "."))
}

// stops are the open findings that hold a seam.
func (v *view) stops(id floor.SeamID) []*floor.FindingState {
	var out []*floor.FindingState
	for _, f := range v.f.SeamFindings(id) {
		if f.Severity == spec.Stop && f.Open() {
			out = append(out, f)
		}
	}
	return out
}

// hold is why a seam is on hold and what gets it off; empty when it is not.
func (v *view) hold(s *floor.Seam) string {
	all := v.stops(s.ID)
	if len(all) == 0 {
		return ""
	}
	text := shortOf(all[0])
	if n := len(all) - 1; n > 0 {
		text += ", and " + count(n, "more finding")
	}
	return text + ": " + orders(all)
}

// orders is what a seam on hold waits for.
func orders(all []*floor.FindingState) string {
	for _, f := range all {
		switch f.Answer {
		case floorv1.Disposition_DISPOSITION_REDO:
			return "to be taken off and done again"
		case floorv1.Disposition_DISPOSITION_SCUFF:
			return "to be scuffed"
		}
	}
	return "foreman to decide"
}

// ordered is what the foreman's answers order to be done to a seam.
func ordered(all []*floor.FindingState) floorv1.Disposition {
	out := floorv1.Disposition_DISPOSITION_UNSPECIFIED
	for _, f := range all {
		if f.Answer == floorv1.Disposition_DISPOSITION_REDO || f.Answer == floorv1.Disposition_DISPOSITION_SCUFF && out == floorv1.Disposition_DISPOSITION_UNSPECIFIED {
			out = f.Answer
		}
	}
	return out
}

var hourForm = regexp.MustCompile(`\b[0-2][0-9]:[0-5][0-9]\b`)

// inUTC marks times in the journal's texts, which are in UTC, where the
// shop's own clock is another.
func (v *view) inUTC(text string) string {
	if _, off := v.now.Zone(); off == 0 || !hourForm.MatchString(text) {
		return text
	}
	return strings.TrimSuffix(text, ".") + " (times in UTC)."
}

// openFindings are the findings about a seam that are neither answered nor
// lapsed, the worst first.
func (v *view) openFindings(id floor.SeamID) []*floor.FindingState {
	var out []*floor.FindingState
	for _, f := range v.f.SeamFindings(id) {
		if f.Open() {
			out = append(out, f)
		}
	}
	slices.SortStableFunc(out, func(a, b *floor.FindingState) int {
		return cmp.Compare(b.Severity.Rank(), a.Severity.Rank())
	})
	return out
}

// told puts the findings of a receipt into words, the worst first. Those
// about other things say about which.
func (v *view) told(fs []*floorv1.Finding) []string {
	fs = slices.Clone(fs)
	slices.SortStableFunc(fs, func(a, b *floorv1.Finding) int { return cmp.Compare(b.GetSeverity(), a.GetSeverity()) })
	var out []string
	for _, f := range fs {
		out = append(out, floor.Word(f.GetSeverity())+": "+v.inUTC(f.GetReason()))
	}
	return out
}
