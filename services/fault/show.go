package fault

import (
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Show makes a text that came from outside fit for one line: at most so many
// characters of it, quoted when it holds what cannot be seen, line ends above
// all, so that it cannot pass for another line.
func Show(text string, most int) string {
	n := 0
	for i := range text {
		if n == most {
			text = text[:i] + "..."
			break
		}
		n++
	}
	if strings.ContainsFunc(text, func(r rune) bool { return !unicode.IsGraphic(r) || r == utf8.RuneError }) {
		return strconv.Quote(text)
	}
	return text
}
