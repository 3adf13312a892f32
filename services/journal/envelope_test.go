package journal_test

import (
	"maps"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"
	"google.golang.org/protobuf/types/known/structpb"
	"google.golang.org/protobuf/types/known/wrapperspb"
	"pgregory.net/rapid"

	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/journal"
	"seamwright/services/journal/journaltest"
)

// text draws what a person may type: any letters, no control characters.
func text(least int) *rapid.Generator[string] {
	r := rapid.RuneFrom(nil, unicode.L, unicode.N, unicode.P, unicode.S, unicode.Zs)
	return rapid.StringOfN(r, least, 12, 64)
}

func moment() *rapid.Generator[time.Time] {
	return rapid.Custom(func(t *rapid.T) time.Time {
		sec := rapid.Int64Range(-2208988800, 7258118400).Draw(t, "sec") // 1900 to 2200
		zone := time.FixedZone("there", rapid.IntRange(-12, 14).Draw(t, "zone")*3600)
		return time.Unix(sec, rapid.Int64Range(0, 999999999).Draw(t, "ns")).In(zone)
	})
}

func maybe[T any](g *rapid.Generator[T]) *rapid.Generator[T] {
	return rapid.OneOf(rapid.Just(*new(T)), g)
}

func event() *rapid.Generator[floor.Event] {
	return rapid.Custom(func(t *rapid.T) floor.Event {
		var body proto.Message = wrapperspb.String(text(0).Draw(t, "text"))
		if rapid.Bool().Draw(t, "struct") {
			s, err := structpb.NewStruct(map[string]any{text(0).Draw(t, "k1"): 1.5, text(0).Draw(t, "k2"): text(0).Draw(t, "v")})
			if err != nil {
				t.Fatal(err)
			}
			body = s
		}
		return floor.Event{
			Seq:       rapid.Uint64().Draw(t, "seq"),
			Aggregate: rapid.StringMatching(`[a-z]{1,6}(\.[A-Za-z0-9ä_%-]{1,9}){1,3}`).Draw(t, "aggregate"),
			Body:      body,
			Header: floor.Header{
				CommandID: text(1).Draw(t, "id"),
				Actor:     text(0).Draw(t, "actor"),
				Role:      floor.Role(text(0).Draw(t, "role")),
				Terminal:  text(0).Draw(t, "terminal"),
				AgeKind:   floor.AgeKind(text(0).Draw(t, "agekind")),
				Received:  maybe(moment()).Draw(t, "received"),
				Occurred:  moment().Draw(t, "occurred"),
				Earliest:  maybe(moment()).Draw(t, "earliest"),
				Latest:    maybe(moment()).Draw(t, "latest"),
				Rules:     text(0).Draw(t, "rules"),
			},
		}
	})
}

// Event to record to headers and all the way back gives the same event, the
// same record and the same bytes.
func TestEventRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := event().Draw(t, "event")
		r, err := journal.Encode(e)
		if err != nil {
			t.Fatal(err)
		}
		r.Seq, r.Source = e.Seq, journal.Source("demo")
		back, err := journal.FromHeaders(e.Seq, journal.Headers(r), r.Payload)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(r, back); d != "" {
			t.Fatalf("record (-sent +read):\n%s", d)
		}
		if lists, err := journal.FromLists(e.Seq, lists(journal.Headers(r)), r.Payload); err != nil || cmp.Diff(back, lists) != "" {
			t.Fatalf("from lists of values: %v, %v", lists, err)
		}
		if got := string(journal.Canonical(r)); got != canonical(r) {
			t.Fatalf("canonical form %q, want the sorted headers %q", got, canonical(r))
		}
		got, err := journal.NewDecoder().Decode(back)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(e, got, protocmp.Transform(), cmp.Comparer(time.Time.Equal)); d != "" {
			t.Fatalf("event (-sent +read):\n%s", d)
		}
		again, err := journal.Encode(got)
		if err != nil || string(again.Payload) != string(r.Payload) || !again.Same(r) {
			t.Fatalf("the event that was read encodes otherwise: %v", err)
		}
	})
}

// lists is headers as a transport has them that keeps a list for each name.
func lists(h map[string]string) map[string][]string {
	out := map[string][]string{"Nats-Msg-Id": {"1", "2"}}
	for name, v := range h {
		out[name] = []string{v}
	}
	return out
}

// canonical is the canonical form as it is defined.
func canonical(r journal.Record) string {
	h := journal.Headers(r)
	var b strings.Builder
	for _, name := range slices.Sorted(maps.Keys(h)) {
		b.WriteString(name + ":" + h[name] + "\n")
	}
	return b.String() + "\n" + string(r.Payload)
}

func TestAHeaderThatStandsTwiceIsRefused(t *testing.T) {
	h := lists(journal.Headers(journal.Record{ID: "a", Source: "s", Type: "t", Aggregate: "a", Time: time.Unix(1, 0)}))
	h["ce-id"] = []string{"a", "b"}
	if _, err := journal.FromLists(12, h, nil); !fault.Is(err, journal.ReasonBadRecord) || !strings.Contains(err.Error(), "record 12: header ce-id stands 2 times") {
		t.Errorf("an id that stands twice: %v", err)
	}
}

// The CloudEvents attributes by name and value. The encoded actor is by hand
// from the HTTP protocol binding for CloudEvents 1.0.2, section 3.1.3.2:
// blank, double quote, per cent and what is outside U+0021 to U+007E.
func TestHeadersOnTheWire(t *testing.T) {
	at := time.Date(2026, 3, 2, 9, 30, 0, 500_000_000, time.FixedZone("CET", 3600))
	r, err := journal.Encode(floor.Event{
		Aggregate: "zone.bay-1", Body: wrapperspb.String("x"),
		Header: floor.Header{
			CommandID: "c-1", Actor: "Åsa \"100%\" €", Role: floor.Machine, Terminal: "t1", AgeKind: floor.AgeMeasured,
			Received: at.Add(time.Second), Occurred: at, Earliest: at, Latest: at, Rules: "2026.1",
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	r.Source = journal.Source("demo")
	want := map[string]string{
		"ce-specversion": "1.0", "ce-id": "c-1", "ce-source": "/shops/demo", "ce-type": "google.protobuf.StringValue",
		"ce-subject": "zone.bay-1", "ce-time": "2026-03-02T08:30:00.5Z", "ce-datacontenttype": "application/protobuf",
		"ce-actor": "%C3%85sa%20%22100%25%22%20%E2%82%AC", "ce-role": "machine", "ce-terminal": "t1", "ce-agekind": "measured",
		"ce-received": "2026-03-02T08:30:01.5Z", "ce-occurred": "2026-03-02T08:30:00.5Z",
		"ce-earliest": "2026-03-02T08:30:00.5Z", "ce-latest": "2026-03-02T08:30:00.5Z", "ce-rules": "2026.1",
	}
	if d := cmp.Diff(want, journal.Headers(r)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if got := string(journal.Canonical(r)); !strings.HasPrefix(got, "ce-actor:%C3%85sa%20%22100%25%22%20%E2%82%AC\nce-agekind:measured\n") ||
		!strings.HasSuffix(got, "\nce-type:google.protobuf.StringValue\n\n\n\x01x") {
		t.Errorf("canonical form %q", got)
	}
}

// Both ways to write headers write the same.
func TestHeadersAsLists(t *testing.T) {
	r := journaltest.Record(t, "a \"b\"", 3)
	r.Attrs["later"] = "one that this program does not know"
	r.Source = "/shops/demo"
	lists := map[string][]string{}
	journal.ToLists(r, "/shops/demo", lists)
	got := map[string]string{}
	for name, vs := range lists {
		got[name] = strings.Join(vs, "|")
	}
	if d := cmp.Diff(journal.Headers(r), got); d != "" {
		t.Error(d)
	}
}

func TestEncodeRefuses(t *testing.T) {
	good := floor.Event{
		Aggregate: "a.b", Body: wrapperspb.String("x"),
		Header: floor.Header{CommandID: "c", Occurred: time.Unix(1, 0)},
	}
	for name, alter := range map[string]func(*floor.Event){
		"no body":         func(e *floor.Event) { e.Body = nil },
		"typed nil body":  func(e *floor.Event) { e.Body = (*wrapperspb.StringValue)(nil) },
		"body not UTF-8":  func(e *floor.Event) { e.Body = wrapperspb.String("\xff") },
		"no id":           func(e *floor.Event) { e.CommandID = "" },
		"no aggregate":    func(e *floor.Event) { e.Aggregate = "" },
		"no moment":       func(e *floor.Event) { e.Occurred = time.Time{} },
		"year 10000":      func(e *floor.Event) { e.Latest = time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC) },
		"actor not UTF-8": func(e *floor.Event) { e.Actor = "\xff" },
	} {
		e := good
		alter(&e)
		if _, err := journal.Encode(e); fault.KindOf(err) != fault.Invalid {
			t.Errorf("%s: %v, want an invalid fault", name, err)
		}
	}
	if _, err := journal.Encode(good); err != nil {
		t.Error(err)
	}
}

func TestDecodeNamesTypeAndNumber(t *testing.T) {
	r, err := journal.Encode(floor.Event{
		Aggregate: "a.b", Body: wrapperspb.String("x"),
		Header: floor.Header{CommandID: "c", Occurred: time.Unix(1, 0)},
	})
	if err != nil {
		t.Fatal(err)
	}
	r.Seq = 4711
	for name, c := range map[string]struct {
		alter  func(*journal.Record)
		reason string
		part   string
	}{
		"unknown type":  {func(r *journal.Record) { r.Type = "seamwright.later.v9.New" }, journal.ReasonUnknownType, "seamwright.later.v9.New"},
		"an enum":       {func(r *journal.Record) { r.Type = "google.protobuf.NullValue" }, journal.ReasonUnknownType, "NullValue"},
		"torn payload":  {func(r *journal.Record) { r.Payload = []byte{0x0a, 9} }, journal.ReasonBadRecord, "payload"},
		"no occurred":   {func(r *journal.Record) { delete(r.Attrs, "occurred") }, journal.ReasonBadRecord, "occurred"},
		"bad received":  {func(r *journal.Record) { r.Attrs["received"] = "noon" }, journal.ReasonBadRecord, "noon"},
		"other instant": {func(r *journal.Record) { r.Time = r.Time.Add(1) }, journal.ReasonBadRecord, "occurred"},
	} {
		bad := r.Clone()
		c.alter(&bad)
		_, err := journal.Decode(bad)
		if !fault.Is(err, c.reason) || !strings.Contains(err.Error(), "4711") || !strings.Contains(err.Error(), c.part) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Whatever stands in headers and payload, the decoder does not panic, and
// what it accepts it would have written itself, byte for byte.
func FuzzFromHeaders(f *testing.F) {
	f.Add("c-1", "/shops/demo", "google.protobuf.StringValue", "seam.1", "1970-01-01T00:00:01Z", "actor", "%C3%85sa", []byte("\n\x01x"))
	f.Add("c-2", "/shops/demo", "google.protobuf.StringValue", "seam.1", "1970-01-01T00:00:01Z", "occurred", "1970-01-01T00:00:01Z", []byte("\n\x01x"))
	f.Add("", "", "", "..", "now", "ACTOR", "%zz", []byte{0xff})
	f.Add("a%20b", "x", "google.protobuf.Struct", "a", "2026-03-02T07:30:00.500Z", "occurred", "1970-01-01T00:00:01Z", []byte{})
	f.Add("%41", "x", "t", "a.b", "0000-01-01T00:00:00Z", "id", "%", []byte(nil))
	f.Fuzz(func(t *testing.T, id, source, typ, subject, at, name, value string, payload []byte) {
		h := map[string]string{
			"ce-specversion": "1.0", "ce-datacontenttype": "application/protobuf", "ce-id": id, "ce-source": source,
			"ce-type": typ, "ce-subject": subject, "ce-time": at, "ce-" + name: value, "Nats-Msg-Id": value,
		}
		r, err := journal.FromHeaders(7, h, payload)
		if err != nil {
			if fault.KindOf(err) != fault.Corrupt || !strings.Contains(err.Error(), "record 7") {
				t.Fatalf("%v, want a corrupt fault that names the record", err)
			}
			return
		}
		delete(h, "Nats-Msg-Id")
		if d := cmp.Diff(h, journal.Headers(r)); d != "" {
			t.Fatalf("accepted, but not what would be written (-read +write):\n%s", d)
		}
		if e, err := journal.Decode(r); err == nil {
			if _, err := journal.Encode(e); err != nil {
				t.Fatalf("an event that was read cannot be written: %v", err)
			}
		}
	})
}

// A moment on the wire is taken when, and only when, it is what the standard
// library would write: time.RFC3339Nano in UTC, RFC 3339.
func TestMomentsOnTheWire(t *testing.T) {
	h := journal.Headers(journal.Record{ID: "a", Source: "s", Type: "t", Aggregate: "a", Time: time.Unix(1, 0)})
	check := func(s string) bool {
		at, err := time.Parse(time.RFC3339Nano, s)
		want := err == nil && at.UTC().Format(time.RFC3339Nano) == s && !at.IsZero() && at.Year() > 0
		h["ce-time"] = s
		r, err := journal.FromHeaders(1, h, nil)
		return (err == nil) == want && (!want || r.Time.Equal(at) && r.Time.Location() == time.UTC)
	}
	for _, s := range []string{
		"2026-02-29T00:00:00Z", "2024-02-29T00:00:00Z", "2026-02-31T00:00:00Z", "2026-04-30T23:59:59.999999999Z", "2026-01-01T24:00:00Z",
		"2026-01-01T00:00:60Z", "2026-1-01T00:00:00Z", "2026-01-01T00:00:00.Z", "2026-01-01T00:00:00.50Z", "2026-01-01T00:00:00.0000000001Z",
		"2026-01-01 00:00:00Z", "2026-01-01T00:00:00+00:00", "2026-01-01T00:00:00.5", "2026-00-10T00:00:00Z", "0000-01-01T00:00:00Z", "0001-01-01T00:00:00Z",
		"2026-01-01T00:00:00,5Z", "+026-01-01T00:00:00Z", "2026-01-01T00:00:0xZ",
	} {
		if !check(s) {
			t.Errorf("%q", s)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		s := []byte(moment().Draw(t, "moment").UTC().Format(time.RFC3339Nano))
		if rapid.Bool().Draw(t, "damage") {
			s[rapid.IntRange(0, len(s)-1).Draw(t, "at")] = rapid.SampledFrom([]byte("0123456789-:.TZ+ ")).Draw(t, "byte")
		}
		if !check(string(s)) {
			t.Fatalf("%q", s)
		}
	})
}
