package spec

import (
	"strings"
	"testing"

	"seamwright/services/fault"
)

func TestWordReadsEveryWordAndNothingElse(t *testing.T) {
	for _, c := range Classes() {
		got, err := Word("class", " "+string(c)+" ", Classes())
		if err != nil || got != c {
			t.Errorf("Word(%q) = %q, %v", c, got, err)
		}
	}
	for _, text := range []string{"", "Heavy-Bodied", "heavy bodied", "heavy", "unknown"} {
		_, err := Word("seam.class", text, Classes())
		if err == nil {
			t.Fatalf("Word(%q) was accepted", text)
		}
		if fault.KindOf(err) != fault.Invalid {
			t.Errorf("Word(%q): kind %v, want invalid", text, fault.KindOf(err))
		}
		for _, part := range []string{"seam.class", text, "self-levelling, medium-bodied, heavy-bodied"} {
			if !strings.Contains(err.Error(), part) {
				t.Errorf("Word(%q): %q does not say %q", text, err, part)
			}
		}
	}
}

func TestVocabulariesAreKebabCaseAndUnique(t *testing.T) {
	check := func(kind string, words []string) {
		seen := map[string]bool{}
		for _, w := range words {
			if seen[w] {
				t.Errorf("%s: %q stands twice", kind, w)
			}
			seen[w] = true
			if w == "" || strings.Trim(w, "abcdefghijklmnopqrstuvwxyz-") != "" {
				t.Errorf("%s: %q is not kebab-case", kind, w)
			}
		}
	}
	check("class", texts(Classes()))
	check("build", texts(Builds()))
	check("profile", texts(Profiles()))
	check("technique", texts(Techniques()))
	check("substrate", texts(Substrates()))
	check("orientation", texts(Orientations()))
	check("finish", texts(Finishes()))
	check("reference source", texts(ReferenceSources()))
	check("coat", texts(Coats()))
	check("severity", texts(Severities()))
	check("nozzle", texts(NozzleKinds()))
	check("layer", texts(Layers()))
}

func texts[W ~string](ws []W) []string {
	out := make([]string, len(ws))
	for i, w := range ws {
		out[i] = string(w)
	}
	return out
}

func TestSeverityRanksRise(t *testing.T) {
	if !(Severity("").Rank() < Note.Rank() && Note.Rank() < Query.Rank() && Query.Rank() < Stop.Rank()) {
		t.Error("severities do not rise from unset over note and query to stop")
	}
}

func TestBareMetalAndWetBed(t *testing.T) {
	bare := map[Substrate]bool{BareSteel: true, BareAluminium: true, ZincCoated: true}
	for _, s := range Substrates() {
		if s.BareMetal() != bare[s] {
			t.Errorf("%s: BareMetal = %v", s, s.BareMetal())
		}
	}
	bed := map[Technique]bool{WetBedThenBead: true, OffPanelBead: true}
	for _, k := range Techniques() {
		if k.WetBed() != bed[k] {
			t.Errorf("%s: WetBed = %v", k, k.WetBed())
		}
	}
}
