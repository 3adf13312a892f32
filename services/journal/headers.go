package journal

import (
	"fmt"
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

// ownAttrs is how many extension attributes a record of ours has at most.
const ownAttrs = 9

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
	p := parsed{Record: Record{Seq: seq, Payload: payload}}
	for name, raw := range h {
		if err := p.header(name, raw); err != nil {
			return Record{}, err
		}
	}
	return p.record()
}

// FromLists is FromHeaders for a transport that keeps a list of values under
// each name; a header of ours that stands twice is a corrupt fault.
func FromLists(seq uint64, h map[string][]string, payload []byte) (Record, error) {
	p := parsed{Record: Record{Seq: seq, Payload: payload, Attrs: make(map[string]string, ownAttrs)}}
	for name, values := range h {
		if !strings.HasPrefix(name, headerPrefix) {
			continue
		}
		if len(values) != 1 {
			return Record{}, fault.New(fault.Corrupt, ReasonBadRecord,
				fmt.Sprintf("record %d: header %s stands %d times, once is right", seq, name, len(values)),
				"verify the store and restore it from a copy")
		}
		if err := p.header(name, values[0]); err != nil {
			return Record{}, err
		}
	}
	return p.record()
}

// parsed is a record whose headers are being read.
type parsed struct {
	Record
	spec, content string
}

func (p *parsed) header(name, raw string) error {
	attr, ours := strings.CutPrefix(name, headerPrefix)
	switch {
	case !ours:
		return nil
	case name == hdrSpec:
		p.spec = raw
		return nil
	case name == hdrContent:
		p.content = raw
		return nil
	}
	v, ok := unescapeValue(raw)
	if !ok {
		return badRecord(p.Seq, name, raw, "must be percent-encoded text")
	}
	if err := p.set(attr, v); err != nil {
		return badRecord(p.Seq, name, raw, err.Error())
	}
	return nil
}

func (p *parsed) record() (Record, error) {
	if p.spec != specVersion {
		return Record{}, badRecord(p.Seq, hdrSpec, p.spec, "the only version is "+specVersion)
	}
	if p.content != contentType {
		return Record{}, badRecord(p.Seq, hdrContent, p.content, "the only content type is "+contentType)
	}
	if len(p.Attrs) == 0 {
		p.Attrs = nil
	}
	if err := check(p.Record); err != nil {
		return Record{}, badRecord(p.Seq, "record", p.ID, err.Error())
	}
	return p.Record, nil
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
			r.Attrs = make(map[string]string, ownAttrs)
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
func Canonical(r Record) []byte { return AppendCanonical(nil, r) }

// AppendCanonical appends the canonical form to b.
func AppendCanonical(b []byte, r Record) []byte {
	type header struct{ name, value string } // without the prefix, which all share; the value not yet escaped
	var room [24]header
	hs := append(room[:0], header{"specversion", specVersion}, header{"id", r.ID}, header{"source", r.Source}, header{"type", r.Type},
		header{"subject", r.Aggregate}, header{"time", ""}, header{"datacontenttype", contentType})
	for name, v := range r.Attrs {
		hs = append(hs, header{name, v})
	}
	slices.SortFunc(hs, func(a, b header) int { return strings.Compare(a.name, b.name) })
	for _, h := range hs {
		b = append(append(append(b, headerPrefix...), h.name...), ':')
		if h.name == "time" {
			b = r.Time.UTC().AppendFormat(b, time.RFC3339Nano)
		} else {
			b = appendEscaped(b, h.value)
		}
		b = append(b, '\n')
	}
	return append(append(b, '\n'), r.Payload...)
}

const upperHex = "0123456789ABCDEF"

// EscapeValue percent-encodes a header value: the blank, the double quote,
// the per cent sign and every byte outside printable ASCII.
func EscapeValue(s string) string {
	if plain(s) {
		return s
	}
	return string(appendEscaped(nil, s))
}

func appendEscaped(b []byte, s string) []byte {
	if plain(s) {
		return append(b, s...)
	}
	for i := range len(s) {
		if c := s[i]; mustEscape(c) {
			b = append(b, '%', upperHex[c>>4], upperHex[c&15])
		} else {
			b = append(b, c)
		}
	}
	return b
}

// plain reports whether nothing in a value must be escaped.
func plain(s string) bool {
	for i := range len(s) {
		if mustEscape(s[i]) {
			return false
		}
	}
	return true
}

func mustEscape(c byte) bool { return c <= ' ' || c >= 0x7f || c == '"' || c == '%' }

// unescapeValue undoes EscapeValue and refuses what it would not have
// written.
func unescapeValue(s string) (string, bool) {
	if plain(s) {
		return s, true
	}
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
	if t, ok := parseUTC(s); ok {
		return t, nil
	}
	t, err := time.Parse(time.RFC3339Nano, s)
	if err != nil || formatTime(t) != s {
		return time.Time{}, fault.Bad("time", s, "RFC 3339 in UTC, as 2026-03-02T07:30:00.5Z")
	}
	return t.UTC(), nil
}

// parseUTC reads "2026-03-02T07:30:00Z", with up to nine digits of a second's
// fraction that does not end in a zero: what stands in every record, several
// times. What it does not take may still be good.
func parseUTC(s string) (time.Time, bool) {
	const seconds = len("2026-03-02T07:30:00")
	if len(s) <= seconds || len(s) > seconds+1+10 || s[len(s)-1] != 'Z' ||
		s[4] != '-' || s[7] != '-' || s[10] != 'T' || s[13] != ':' || s[16] != ':' {
		return time.Time{}, false
	}
	var n [6]int
	for i, span := range [6][2]int{{0, 4}, {5, 7}, {8, 10}, {11, 13}, {14, 16}, {17, 19}} {
		v, ok := digits(s[span[0]:span[1]])
		if !ok {
			return time.Time{}, false
		}
		n[i] = v
	}
	ns := 0
	if f := s[seconds : len(s)-1]; f != "" {
		v, ok := digits(f[1:])
		if !ok || f[0] != '.' || len(f) == 1 || f[len(f)-1] == '0' {
			return time.Time{}, false
		}
		for range 9 - len(f[1:]) {
			v *= 10
		}
		ns = v
	}
	if n[1] < 1 || n[1] > 12 || n[2] < 1 || n[2] > 28 || n[3] > 23 || n[4] > 59 || n[5] > 59 {
		return time.Time{}, false // the ends of months are left to the library
	}
	return time.Date(n[0], time.Month(n[1]), n[2], n[3], n[4], n[5], ns, time.UTC), true
}

// digits reads decimal digits.
func digits(s string) (n int, ok bool) {
	for i := range len(s) {
		c := s[i] - '0'
		if c > 9 {
			return 0, false
		}
		n = 10*n + int(c)
	}
	return n, true
}
