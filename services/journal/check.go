package journal

import (
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"seamwright/services/fault"
)

// Limits of one record. The bus takes 64 KiB of headers and 1 MiB in all;
// these leave room for percent-encoding (three bytes for one) and for the
// headers that the transport adds.
const (
	MaxID        = 256       // bytes
	MaxAggregate = 512       // bytes
	MaxAttrs     = 15 * 1024 // bytes over all names and values
	MaxPayload   = 900 << 10 // bytes
)

// contextAttr reports whether CloudEvents itself defines an attribute; an
// extension may not take its name.
func contextAttr(name string) bool {
	switch name {
	case "specversion", "id", "source", "type", "subject", "time", "datacontenttype", "dataschema", "data":
		return true
	}
	return false
}

// Check says whether the records can be appended together: each well
// formed and within the limits, no id twice.
func Check(recs ...Record) error {
	if len(recs) == 0 || len(recs) > MaxBatch {
		return fault.Bad("records", len(recs), fmt.Sprintf("give 1 to %d records at once", MaxBatch))
	}
	seen := make(map[string]bool, len(recs))
	for _, r := range recs {
		if err := check(r); err != nil {
			return err
		}
		if seen[r.ID] {
			return fault.Bad("id", r.ID, "stands twice in one append; give each record an id of its own")
		}
		seen[r.ID] = true
	}
	return nil
}

func check(r Record) error {
	if err := checkText("id", r.ID, MaxID); err != nil {
		return err
	}
	if err := checkText("type", r.Type, MaxID); err != nil {
		return err
	}
	if err := CheckAggregate(r.Aggregate); err != nil {
		return err
	}
	if err := checkTime("time", r.Time); err != nil {
		return err
	}
	if len(r.Payload) > MaxPayload {
		return fault.Bad("payload", fmt.Sprintf("%d bytes", len(r.Payload)), fmt.Sprintf("at most %d bytes; attach large things by reference", MaxPayload))
	}
	return checkAttrs(r.Attrs)
}

func checkAttrs(attrs map[string]string) error {
	size := 0
	for name, v := range attrs {
		size += len(name) + len(v)
		if !attrName(name) {
			return fault.Bad("attribute", name, "1 to 20 lower-case letters and digits, and no name that CloudEvents defines")
		}
		if v == "" || !printable(v) && !utf8.ValidString(v) {
			return fault.Bad("attribute "+name, fmt.Sprintf("%q", v), "text that is valid UTF-8 and not empty; leave an unset one out")
		}
	}
	if size > MaxAttrs {
		return fault.Bad("attributes", fmt.Sprintf("%d bytes", size), fmt.Sprintf("at most %d bytes together", MaxAttrs))
	}
	return nil
}

// attrName reports whether an extension attribute may be called so:
// CloudEvents 1.0, "Naming Conventions".
func attrName(name string) bool {
	if name == "" || len(name) > 20 || contextAttr(name) {
		return false
	}
	for _, c := range name {
		if (c < 'a' || c > 'z') && (c < '0' || c > '9') {
			return false
		}
	}
	return true
}

func checkText(field, v string, most int) error {
	if v == "" || len(v) > most || !printable(v) && (!utf8.ValidString(v) || strings.ContainsFunc(v, unicode.IsControl)) {
		return fault.Bad(field, fmt.Sprintf("%q", v), fmt.Sprintf("1 to %d bytes of UTF-8 without control characters", most))
	}
	return nil
}

// printable reports whether a text is of printable ASCII only, as nearly all
// are: what records are checked for then needs no closer look.
func printable(s string) bool {
	for i := range len(s) {
		if s[i] < ' ' || s[i] > '~' {
			return false
		}
	}
	return true
}

// checkTime keeps to what RFC 3339 can write.
func checkTime(field string, t time.Time) error {
	if y := t.UTC().Year(); t.IsZero() || y < 1 || y > 9999 {
		return fault.Bad(field, t, "a moment in the years 1 to 9999, not unset")
	}
	return nil
}

// CheckAggregate says whether a name can be an aggregate: dotted tokens,
// none empty, without blanks, control characters and the bus's wildcards.
func CheckAggregate(name string) error {
	bad := func(c rune) bool {
		return c == '*' || c == '>' || unicode.IsSpace(c) || unicode.IsControl(c) || c == utf8.RuneError
	}
	ok := name != "" && len(name) <= MaxAggregate && name[0] != '.' && name[len(name)-1] != '.' && !strings.Contains(name, "..")
	if !ok || strings.ContainsFunc(name, bad) {
		return fault.Bad("aggregate", fmt.Sprintf("%q", name),
			fmt.Sprintf("at most %d bytes of tokens joined by dots, none empty, without blanks, * and >", MaxAggregate))
	}
	return nil
}
