package console

import (
	"errors"
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"

	"seamwright/services/calc/quantity"
	"seamwright/services/calc/spec"
	"seamwright/services/fault"
)

// missing is the fault of a flag that was not given.
func missing(flag, want string) error { return fault.Bad(flag, "missing", "give "+want) }

// flagged says a fault about arguments with the flags that they were given by:
// "rh" is "--rh", "temp_c" is "--temp-c".
func flagged(err error) error {
	e, ok := errors.AsType[*fault.Error](err)
	if !ok || len(e.Fields) == 0 {
		return err
	}
	var faults []*fault.Error
	for _, f := range e.Fields {
		faults = append(faults, fault.Bad("--"+strings.ReplaceAll(f.Path, "_", "-"), f.Value, f.Limit))
	}
	out := faults[0].Join(faults[1:]...)
	out.Hint = e.Hint
	return out
}

// decimal is a number as people write it.
var decimal = regexp.MustCompile(`^[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]{1,3})?$`)

// floorID is the form of an identifier of the shop, as the contract has it.
var floorID = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_-]{0,47}$`)

const idForm = "1 to 48 letters, digits, - or _, the first a letter or digit"

// number reads a flag's number; want says in words what it should be. One of
// per cent may have its sign.
func number(flag, text, want string) (float64, error) {
	if text == "" {
		return 0, missing(flag, want)
	}
	bare := text
	if strings.HasSuffix(flag, "-percent") || strings.Contains(want, "%") {
		bare, _ = perCent(text)
	}
	x, err := strconv.ParseFloat(bare, 64)
	if !decimal.MatchString(bare) || err != nil || math.IsInf(x, 0) {
		if advice := quantity.PointAdvice(text); advice != "" {
			want = advice + "; " + want
		}
		return 0, fault.Bad(flag, show(text), want)
	}
	return x + 0, nil // -0 becomes 0
}

// perCent takes the sign of per cent off a number.
func perCent(text string) (bare string, signed bool) {
	bare, signed = strings.CutSuffix(text, "%")
	return strings.TrimRight(bare, " "), signed
}

// share reads a flag's part of 1, which may be typed in per cent with the sign:
// 0.95 or 95%.
func share(flag, text, want string) (float64, error) {
	bare, signed := perCent(text)
	if !signed || !decimal.MatchString(bare) {
		return number(flag, text, want)
	}
	if !strings.ContainsAny(bare, "eE") {
		return number(flag, bare+"e-2", want) // 99.99e-2 is read as 0.9999, 99.99/100 may be a bit off
	}
	x, err := number(flag, bare, want)
	return x / 100, err
}

// maybeNumber reads a number that may be left out.
func maybeNumber(flag, text, want string) (*float64, error) {
	if text == "" {
		return nil, nil
	}
	x, err := number(flag, text, want)
	if err != nil {
		return nil, err
	}
	return &x, nil
}

// when reads a flag's moment.
func when(flag, text string) (time.Time, error) {
	const want = "a time like 2026-03-02T07:30:00Z with its offset, from 1970 to 2200"
	if text == "" {
		return time.Time{}, missing(flag, want)
	}
	t, err := time.Parse(time.RFC3339Nano, text)
	if err == nil {
		t = t.UTC()
	}
	if err != nil || t.Year() < 1970 || t.Year() >= 2200 {
		return time.Time{}, fault.Bad(flag, show(text), want)
	}
	return t, nil
}

// word reads a flag's word out of a vocabulary.
func word[W ~string](flag, text string, all []W) (W, error) {
	w := W(text)
	if text != "" && spec.Known(w, all) {
		return w, nil
	}
	names := make([]string, len(all))
	for i, a := range all {
		names[i] = string(a)
	}
	want := "one of " + strings.Join(names, ", ")
	if text == "" {
		return "", missing(flag, want)
	}
	return "", fault.Bad(flag, show(text), want)
}

// show makes a typed value fit for one line.
func show(text string) string {
	if text == "" {
		return "(empty)"
	}
	return fault.Show(text, 60)
}

// oneLine writes what cannot be seen, line ends above all, as its escape, so
// that a text that somebody typed cannot pass for another line.
func oneLine(text string) string {
	var b strings.Builder
	for _, r := range text {
		if strconv.IsPrint(r) {
			b.WriteRune(r)
			continue
		}
		b.WriteString(strings.Trim(strconv.QuoteRune(r), "'"))
	}
	return b.String()
}

// typed is a name that somebody typed, quoted when it holds what cannot be seen.
func typed(text string) string {
	if oneLine(text) != text {
		return strconv.Quote(text)
	}
	return text
}
