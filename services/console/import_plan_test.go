package console_test

import (
	"io"
	"testing"

	"seamwright/services/console"
)

// Whoever wants seams planned is told what is missing for it, by its own name.
func TestAPlanWantsASurveyAndProducts(t *testing.T) {
	const survey, products = "../../testdata/shop/survey.csv", "../../testdata/shop/products"
	for want, q := range map[string]console.Import{
		"--products: missing: give the folder of product files that --plan chooses from": {Surveys: []string{survey}, Lots: "../../testdata/shop/lots.csv"},
		"SURVEY: missing: give the survey whose seams --plan is about":                   {Products: products},
		"--plan: alone: beside a survey and --products: a plan needs both":               {},
	} {
		q.Plan = true
		line, status := console.Explain(q.Run(t.Context(), console.Out{W: io.Discard}))
		if line != want || status != console.ExitRefused {
			t.Errorf("%q with status %d, want %q", line, status, want)
		}
	}
}
