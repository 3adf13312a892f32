package rpc

import (
	"strings"

	"buf.build/go/protovalidate"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// forms say in words what a text may hold, by the pattern that its field has
// in the proto file. A test sees to it that every pattern is here.
var forms = map[string]string{
	`^[A-Za-z0-9][A-Za-z0-9_-]{0,47}$`:                                   anID,
	`^([A-Za-z0-9][A-Za-z0-9_-]{0,47})?$`:                                anID + ", or nothing",
	`^[A-Za-z0-9][A-Za-z0-9_-]{0,47}/[A-Za-z0-9][A-Za-z0-9_-]{0,47}$`:    aSeam,
	`^([A-Za-z0-9][A-Za-z0-9_-]{0,47}/[A-Za-z0-9][A-Za-z0-9_-]{0,47})?$`: aSeam + ", or nothing",
	`^[A-Za-z0-9][A-Za-z0-9_.:-]{7,99}$`:                                 "must be 8 to 100 of the letters A to Z, digits, - _ . and :, the first a letter or digit",
	`^[0-9]{1,20}\.[0-9]{1,4}$`:                                          "must be a finding's number: the event's, a point and which of its findings it is, like 96.1",
	`^[0-9]{4,12}$`:                                                      "must be 4 to 12 digits",
	`^[0-9a-f]{64}$`:                                                     "must be 64 digits and letters a to f, a SHA-256 sum in hexadecimal",
	`^([0-9]{1,9}(\.[0-9]{1,4})?)?$`:                                     "must be an amount of money in digits, with up to 4 behind a point, like 31.50, or nothing",
	`^([A-Z]{3})?$`:                                                      "must be a currency's code of 3 capitals (ISO 4217), like USD, or nothing",
	`^[^\p{C}\p{Z}]([^\p{C}]{0,78}[^\p{C}\p{Z}])?$`:                      "must be 1 to 80 characters on one line, with no space at either end",
}

const (
	anID  = "must be an identifier of 1 to 48 letters A to Z, digits, - and _, the first a letter or digit, without spaces; see how it is written"
	aSeam = "must be a job and a seam, like 2207/rd-l, each 1 to 48 letters A to Z, digits, - and _, the first a letter or digit, without spaces; see how it is written"
)

// limitOf says in words what a rule asks for. The pattern of a rule is for
// machines and is never shown.
func limitOf(v *protovalidate.Violation) string {
	if d := v.RuleDescriptor; d != nil && d.Name() == "pattern" && v.RuleValue.IsValid() {
		if words, ok := forms[v.RuleValue.String()]; ok {
			return words
		}
		return "must be written in another form; see its field in the proto file"
	}
	if fd := v.FieldDescriptor; fd != nil && fd.Enum() != nil && v.RuleDescriptor != nil {
		switch v.RuleDescriptor.Name() {
		case "not_in", "defined_only":
			return oneOf(fd.Enum().Values())
		}
	}
	return limit(v.Proto.GetMessage())
}

// oneOf lists what may be told of an enum, by name. Its value 0 stands for
// nothing told and is not listed.
func oneOf(all protoreflect.EnumValueDescriptors) string {
	var names []string
	for i := range all.Len() {
		if d := all.Get(i); d.Number() != 0 {
			names = append(names, string(d.Name()))
		}
	}
	return "must be one of " + strings.Join(names, ", ")
}
