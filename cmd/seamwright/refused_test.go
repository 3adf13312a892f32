package main

import (
	"strings"
	"testing"
)

// A value that is no number is refused with its flag, itself and what is
// wanted; the parser's own words of bits are kept from people.
func TestAValueThatIsNoNumber(t *testing.T) {
	t.Parallel()
	for line, want := range map[string]string{
		"soak|--years|x":                    `--years: x: a whole number`,
		"soak|--seed|1.5":                   `--seed: 1.5: a whole number from 0`,
		"soak|--years|99999999999999999999": `--years: 99999999999999999999: a whole number`,
		"demo|--pace|a b":                   `--pace: a b: a number`,
		"demo|--pace|\"":                    `--pace: ": a number`,
		"demo|--pace|NaN":                   `--pace: NaN: above 0 to 3600 simulated seconds in a real one`,
		"demo|--headless|--load|nan":        `--load: NaN: 10 to 120 per cent`,
		"soak|9":                            `arguments: unexpected argument 9: see seamwright --help`,
	} {
		if err := run(t.Context(), strings.Split(line, "|")); err == nil || err.Error() != want {
			t.Errorf("%s: %v, want %s", line, err, want)
		}
	}
}
