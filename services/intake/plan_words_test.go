package intake

import (
	"strings"
	"testing"
)

// What is wrong with a plan's problem file is said in words for who typed it.
func TestPlanFilesAreRefusedInWords(t *testing.T) {
	const head = `{"start":"2026-03-02T07:30:00Z",`
	for text, want := range map[string]string{
		`{"start": N}`:            "p.json:1: 'N' where a value should begin: well-formed JSON",
		`{"start" 1}`:             "p.json:1: '1' where a colon should be: well-formed JSON",
		head + ` "a":1 "b"}`:      "p.json:1: '\"' where a comma or } should be: well-formed JSON",
		`[1 2]`:                   "p.json:1: '2' where a comma or ] should be: well-formed JSON",
		head + `"booths":{}}`:     `booths: an object: several in square brackets, like [{"id": "X1"}, {"id": "X2"}]`,
		head + `"loads":[3]}`:     `loads[0]: 3: names and values in curly brackets, like {"id": "X1"}`,
		head + `"loads":[{}]}`:    "loads[0].id: missing: give one line of 1 to 60 characters",
		`{"loads":[{"id":" L"}]}`: `loads[0].id: " L": one line of 1 to 60 characters, with no blank at either end`,
	} {
		if _, err := ReadPlan("p.json", strings.NewReader(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", text, err, want)
		}
	}
}
