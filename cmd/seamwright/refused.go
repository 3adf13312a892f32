package main

import (
	"regexp"
	"strconv"
	"strings"

	"seamwright/services/fault"
)

// noNumber is the parser's word on a value that should be a number.
var noNumber = regexp.MustCompile(`^(--[a-z0-9-]+): expected a (valid \d+ bit u?int|float) but got ("(?:[^"\\]|\\.)*")`)

// refused is the fault of arguments that the parser does not take: a value that
// is no number is told with its flag, as values are that are out of bounds.
func refused(err error) error {
	m := noNumber.FindStringSubmatch(err.Error())
	if m == nil {
		return fault.Bad("arguments", err.Error(), "see seamwright --help")
	}
	want := "a number"
	switch {
	case strings.HasSuffix(m[2], "uint"):
		want = "a whole number from 0"
	case strings.HasSuffix(m[2], "int"):
		want = "a whole number"
	}
	value, bad := strconv.Unquote(m[3])
	if bad != nil {
		value = m[3]
	}
	return fault.Bad(m[1], fault.Show(value, 120), want)
}
