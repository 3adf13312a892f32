package journal

import (
	"bytes"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"seamwright/services/fault"
)

// Headers of the CloudEvents NATS protocol binding in binary mode: each
// attribute as "ce-" and its name, each value percent-encoded as the HTTP
// protocol binding 1.0.2 says in section 3.1.3.2.
const (
	headerPrefix = "ce-"
	specVersion  = "1.0"
	contentType  = "application/protobuf"

	hdrSpec    = headerPrefix + "specversion"
	hdrID      = headerPrefix + "id"
	hdrSource  = headerPrefix + "source"
	hdrType    = headerPrefix + "type"
	hdrSubject = headerPrefix + "subject"
	hdrTime    = headerPrefix + "time"
	hdrContent = headerPrefix + "datacontenttype"
)

// Source is the CloudEvents source of a shop's records.
func Source(shop string) string { return "/shops/" + shop }

// CheckShop says whether a name can be a shop's: it becomes part of stream
// names, subjects and file names.
func CheckShop(shop string) error {
	ok := shop != "" && len(shop) <= 32
	for _, c := range shop {
		ok = ok && (c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c == '-' || c == '_')
	}
	if !ok {
		return fault.Bad("shop", fmt.Sprintf("%q", shop), "1 to 32 lower-case letters, digits, - and _")
	}
	return nil
}

// Headers gives a record's headers in wire form. The map holds ours only:
// what a transport adds beside them is not part of the record.
func Headers(r Record) map[string]string {
	h := map[string]string{
		hdrSpec:    specVersion,
		hdrID:      EscapeValue(r.ID),
		hdrSource:  EscapeValue(r.Source),
		hdrType:    EscapeValue(r.Type),
		hdrSubject: EscapeValue(r.Aggregate),
		hdrTime:    formatTime(r.Time),
		hdrContent: contentType,
	}
	for name, v := range r.Attrs {
		h[headerPrefix+name] = EscapeValue(v)
	}
	return h
}

// FromHeaders makes a record from its number, its headers in wire form and
// its payload. Headers that are not ours are passed over. It accepts exactly
// what Headers writes, so that no stored byte can change unnoticed; anything
// else is a corrupt fault that names the number.
func FromHeaders(seq uint64, h map[string]string, payload []byte) (Record, error) {
	r := Record{Seq: seq, Payload: payload}
	if h[hdrSpec] != specVersion {
		return Record{}, badRecord(seq, hdrSpec, h[hdrSpec], "the only version is "+specVersion)
	}
	if h[hdrContent] != contentType {
		return Record{}, badRecord(seq, hdrContent, h[hdrContent], "the only content type is "+contentType)
	}
	for name, raw := range h {
		attr, ours := strings.CutPrefix(name, headerPrefix)
		if !ours || name == hdrSpec || name == hdrContent {
			continue
		}
		v, ok := unescapeValue(raw)
		if !ok {
			return Record{}, badRecord(seq, name, raw, "must be percent-encoded text")
		}
		if err := r.set(attr, v); err != nil {
			return Record{}, badRecord(seq, name, raw, err.Error())
		}
	}
	if err := check(r); err != nil {
		return Record{}, badRecord(seq, "record", r.ID, err.Error())
	}
	return r, nil
}

// set puts one decoded attribute where it belongs.
func (r *Record) set(attr, v string) (err error) {
	switch attr {
	case "id":
		r.ID = v
	case "source":
		r.Source = v
	case "type":
		r.Type = v
	case "subject":
		r.Aggregate = v
	case "time":
		r.Time, err = parseTime(v)
	default:
		if r.Attrs == nil {
			r.Attrs = make(map[string]string)
		}
		r.Attrs[attr] = v
	}
	return err
}

func badRecord(seq uint64, where, value, limit string) error {
	return fault.New(fault.Corrupt, ReasonBadRecord,
		fmt.Sprintf("record %d: %s: %q: %s", seq, where, value, limit),
		"verify the store and restore it from a copy")
}

// Canonical is the byte string that stands for a record in the proof: its
// headers, sorted by name, each as "name:value" and a line feed, an empty
// line, the payload. Values are in wire form and hold no line feed, so two
// records never share one. The number is not in it: the leaf's place is.
func Canonical(r Record) []byte {
	h := Headers(r)
	var b bytes.Buffer
	for _, name := range slices.Sorted(maps.Keys(h)) {
		b.WriteString(name)
		b.WriteByte(':')
		b.WriteString(h[name])
		b.WriteByte('\n')
	}
	b.WriteByte('\n')
	b.Write(r.Payload)
	return b.Bytes()
}

const upperHex = "0123456789ABCDEF"

// EscapeValue percent-encodes a header value: the blank, the double quote,
// the per cent sign and every byte outside printable ASCII.
func EscapeValue(s string) string {
	var b strings.Builder
	for i := range len(s) {
		if c := s[i]; mustEscape(c) {
			b.WriteByte('%')
			b.WriteByte(upperHex[c>>4])
			b.WriteByte(upperHex[c&15])
		} else {
			b.WriteByte(c)
		}
	}
	return b.String()
}

func mustEscape(c byte) bool { return c <= ' ' || c >= 0x7f || c == '"' || c == '%' }

// unescapeValue undoes EscapeValue and refuses what it would not have
// written.
func unescapeValue(s string) (string, bool) {
	b := make([]byte, 0, len(s))
	for i := 0; i < len(s); i++ {
		c := s[i]
		if c == '%' {
			if i+2 >= len(s) {
				return "", false
			}
			hi, lo := strings.IndexByte(upperHex, s[i+1]), strings.IndexByte(upperHex, s[i+2])
			if hi < 0 || lo < 0 || !mustEscape(byte(hi<<4|lo)) {
				return "", false
			}
			c = byte(hi<<4 | lo)
			i += 2
		} else if mustEscape(c) {
			return "", false
		}
		b = append(b, c)
	}
	return string(b), utf8.Valid(b)
}

func formatTime(t time.Time) string { return t.UTC().Format(time.RFC3339Nano) }

// parseTime reads what formatTime writes, and nothing else.
func parseTime(s string) (time.Time, error) {
	t, err := time.Parse(time.RFC3339Nano, s)
	if err != nil || formatTime(t) != s {
		return time.Time{}, fault.Bad("time", s, "RFC 3339 in UTC, as 2026-03-02T07:30:00.5Z")
	}
	return t.UTC(), nil
}
