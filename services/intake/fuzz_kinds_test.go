package intake

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
	"go.yaml.in/yaml/v3"

	"seamwright/services/access"
	"seamwright/services/bus"
	"seamwright/services/fault"
)

// decoder is a reader of one kind of file with what must hold of it.
type decoder struct {
	check func(*testing.T, []byte) // what is refused is told well, what is accepted holds its limits
	read  func([]byte) (any, error)
	files string // below testdata/shop, to begin with
}

func asAny[T any](read func(string, *bytes.Reader) (T, error)) func([]byte) (any, error) {
	return func(data []byte) (any, error) { return read(fuzzed, bytes.NewReader(data)) }
}

// Each target takes every decoder of one kind of text; the first argument
// says which. The order is part of the corpus: append only.
var (
	csvKinds = []decoder{
		{checkSurvey, asAny(func(n string, r *bytes.Reader) ([]Job, error) { return ReadSurvey(n, r) }), "survey.csv"},
		{checkReadings, asAny(func(n string, r *bytes.Reader) ([]Reading, error) { return ReadReadings(n, r) }), "readings/*.csv"},
		{checkLoads, asAny(func(n string, r *bytes.Reader) ([]Load, error) { return ReadLoads(n, r) }), "loads.csv"},
		{checkPoints, asAny(func(n string, r *bytes.Reader) ([]Point, error) { return ReadPoints(n, r) }), ""},
		{checkLots, asAny(func(n string, r *bytes.Reader) ([]Lot, error) { return ReadLots(n, r) }), "lots.csv"},
	}
	yamlKinds = []decoder{
		{checkProduct, asAny(func(n string, r *bytes.Reader) (Product, error) { return ReadProduct(n, r) }), "products/*.yaml"},
		{checkZone, asAny(func(n string, r *bytes.Reader) (Zone, error) { return ReadZone(n, r) }), "zones/*.yaml"},
		{checkBooth, asAny(func(n string, r *bytes.Reader) (Booth, error) { return ReadBooth(n, r) }), "booths/*.yaml"},
		{checkPeople, func(b []byte) (any, error) { return readPeople(fuzzed, b) }, "people.yaml"},
		{checkBusUsers, func(b []byte) (any, error) { return access.ParseBus(fuzzed, b) }, ""},
	}
	jsonKinds = []decoder{
		{func(t *testing.T, b []byte) { checkPlan(t, b) }, asAny(func(n string, r *bytes.Reader) (any, error) { return ReadPlan(n, r) }), ""},
		{checkPlanAnswer, asAny(func(n string, r *bytes.Reader) (any, error) { return ReadPlanAnswer(n, r) }), ""},
		{message("beat", bus.DecodeBeat, bus.Beat.Encode), nil, ""}, // a message is no file: nobody edits it
		{message("sign of life", bus.DecodeLife, bus.Life.Encode), nil, ""},
	}
)

const (
	peopleText = "people: [{name: A, role: painter}]\nterminals: [{id: bay-1, zone: bay-1}, {id: desk}]\n"
	busText    = "users:\n- {kind: probe, zone: bay-1, probe: p1, password_hash: $2a$04$abcdefghijklmnopqrstuuE3nZ1sJ0m0Y0Zb5y7p0QW1m2n3o4p5q}\n" +
		"- {kind: reader, name: wall, password_hash: $2a$12$abcdefghijklmnopqrstuuE3nZ1sJ0m0Y0Zb5y7p0QW1m2n3o4p5q}\n"
	beatText = `{"booth":"B1","holder":"gate-A","beat":7,"sign":"CLEAR","load":"2207-A","permit":"p-1","start_by":"2026-03-02T10:10:00Z","reasons":[],"sequence":128,"now":"2026-03-02T10:00:00Z"}`
	lifeText = `{"service":"booth","instance":"i1","address":"127.0.0.1:7410","sequence":9,"started":"2026-03-02T10:00:00Z","now":"2026-03-02T10:00:01Z","active":true}`
)

var (
	csvTexts  = []string{surveyText, readingsText, loadsText, "stage,temp_c,minutes\nhandling,15,70\n", lotsText}
	yamlTexts = []string{productText, zoneText, boothText, peopleText, busText}
	jsonTexts = []string{planText, answerText, beatText, lifeText}
)

func FuzzCSV(f *testing.F) {
	seed(f, csvKinds, csvTexts)
	f.Fuzz(func(t *testing.T, kind byte, data []byte) { try(t, csvKinds, kind, data) })
}

func FuzzYAML(f *testing.F) {
	seed(f, yamlKinds, yamlTexts)
	f.Fuzz(func(t *testing.T, kind byte, data []byte) { try(t, yamlKinds, kind, data) })
}

func FuzzJSON(f *testing.F) {
	seed(f, jsonKinds, jsonTexts)
	f.Fuzz(func(t *testing.T, kind byte, data []byte) { try(t, jsonKinds, kind, data) })
}

// TestSeedsAreAccepted sees that each kind's example is taken: from a refused
// one a target would have to find out first what such a text looks like.
func TestSeedsAreAccepted(t *testing.T) {
	for kinds, texts := range map[*[]decoder][]string{
		&csvKinds: csvTexts, &yamlKinds: yamlTexts, &jsonKinds: jsonTexts,
	} {
		for i, k := range *kinds {
			if k.read == nil {
				continue
			}
			if _, err := k.read([]byte(texts[i])); err != nil {
				t.Errorf("%s\n%v", texts[i], err)
			}
		}
	}
	if _, err := bus.DecodeBeat([]byte(beatText)); err != nil {
		t.Error(err)
	}
	if _, err := bus.DecodeLife([]byte(lifeText)); err != nil {
		t.Error(err)
	}
}

// seed gives each kind its example and the beginning of the shop's own files.
func seed(f *testing.F, kinds []decoder, texts []string) {
	f.Helper()
	if len(texts) != len(kinds) {
		f.Fatalf("%d examples for %d kinds", len(texts), len(kinds))
	}
	const most = 2000
	for i, k := range kinds {
		f.Add(byte(i), []byte(texts[i]))
		if k.files == "" {
			continue
		}
		names, err := filepath.Glob(filepath.Join("../../testdata/shop", k.files))
		if err != nil || len(names) == 0 {
			f.Fatalf("no file %s in the shop (%v)", k.files, err)
		}
		for _, name := range names {
			text, err := os.ReadFile(name)
			if err != nil {
				f.Fatal(err)
			}
			if len(text) > most {
				text = text[:bytes.LastIndexByte(text[:most], '\n')+1]
			}
			f.Add(byte(i), text)
		}
	}
}

// try reads a text as one kind and sees that what an editor does to line ends
// and the begin of a file changes nothing.
func try(t *testing.T, kinds []decoder, kind byte, data []byte) {
	k := kinds[int(kind)%len(kinds)]
	k.check(t, data)
	if k.read == nil || bytes.ContainsRune(data, '\r') || bytes.HasPrefix(data, []byte("\ufeff")) || len(bytes.TrimSpace(data)) == 0 {
		return
	}
	want, err := k.read(data)
	got, again := k.read([]byte("\ufeff" + strings.ReplaceAll(string(data), "\n", "\r\n")))
	if (err == nil) != (again == nil) {
		t.Fatalf("as it is: %v\nwith byte order mark and CRLF: %v", err, again)
	}
	if err != nil {
		return
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Fatalf("byte order mark and CRLF make a difference (- without + with)\n%s", d)
	}
}

// people is what a people file says, apart from the PINs.
type people struct {
	People    []access.Person
	Terminals []access.Terminal
}

func readPeople(name string, data []byte) (people, error) {
	s, err := access.Parse(name, data)
	if err != nil {
		return people{}, err
	}
	return people{s.People(), s.Terminals()}, nil
}

func checkPeople(t *testing.T, data []byte) {
	got, err := readPeople(fuzzed, data)
	if err != nil {
		refused(t, err)
		return
	}
	names, ids := map[string]bool{}, map[string]bool{}
	tree := map[string][]map[string]string{"people": {}, "terminals": {}}
	for _, p := range got.People {
		if !line(p.Name, 80) || strings.TrimSpace(p.Name) == "" || names[p.Name] || p.Role == "" {
			t.Fatalf("accepted %+v", p)
		}
		names[p.Name] = true
		tree["people"] = append(tree["people"], map[string]string{"name": p.Name, "role": string(p.Role)})
	}
	for _, o := range got.Terminals {
		if ids[o.ID] || !identifier.MatchString(o.ID) || o.Zone != "" && !identifier.MatchString(o.Zone) {
			t.Fatalf("accepted %+v", o)
		}
		ids[o.ID] = true
		tree["terminals"] = append(tree["terminals"], map[string]string{"id": o.ID, "zone": o.Zone})
	}
	text, err := yaml.Marshal(tree)
	if err != nil {
		t.Fatal(err)
	}
	same(t, readPeople, text, got)
}

func checkBusUsers(t *testing.T, data []byte) {
	users, err := access.ParseBus(fuzzed, data)
	if err != nil {
		refused(t, err)
		return
	}
	tree := []map[string]string{}
	seen := map[string]bool{}
	for _, u := range users {
		if seen[u.User()] || !strings.HasPrefix(u.Hash, "$2") || (u.Kind == access.BusProbe) != (u.Probe != "" && u.Zone != "" && u.Name == "") {
			t.Fatalf("accepted %+v", u)
		}
		seen[u.User()] = true
		tree = append(tree, map[string]string{"kind": string(u.Kind), "zone": u.Zone, "probe": u.Probe, "name": u.Name, "password_hash": u.Hash})
	}
	text, err := yaml.Marshal(map[string]any{"users": tree})
	if err != nil {
		t.Fatal(err)
	}
	same(t, access.ParseBus, text, users)
}

// message checks a decoder of the bus: what it refuses is told in one line,
// what it takes can be sent again and is then the same.
func message[T any](what string, read func([]byte) (T, error), write func(T) ([]byte, error)) func(*testing.T, []byte) {
	return func(t *testing.T, data []byte) {
		got, err := read(data)
		if err != nil {
			if text := err.Error(); fault.KindOf(err) != fault.Invalid || strings.ContainsAny(text, "\n\r") || !utf8.ValidString(text) || len(text) > 2000 {
				t.Fatalf("%s: %v: %q, want an invalid fault on one line", what, fault.KindOf(err), text)
			}
			return
		}
		text, err := write(got)
		if err != nil {
			t.Fatalf("%s: what was accepted cannot be sent: %v", what, err)
		}
		back, err := read(text)
		if err != nil {
			t.Fatalf("%s: what was sent again is refused: %v\n%s", what, err, text)
		}
		if d := cmp.Diff(got, back); d != "" {
			t.Fatalf("%s: it comes back changed (-read +again)\n%s", what, d)
		}
	}
}

// A mistake in a name that is not one line of plain text is told on one line.
func TestStrangeNamesAreToldOnOneLine(t *testing.T) {
	long := strings.Repeat("x", 100_000)
	for i, text := range []string{
		"\"a\\nb\": 1\n\"a\\nb\": 2\n",
		"id: b\nsetup_min: {\"a\\nb\": 1}\n",
		"setup_min: {" + long + ": {" + long + ": x}}\n",
		long + ": 1\n" + long + ": 2\n",
	} {
		_, err := ReadBooth(fuzzed, strings.NewReader(text))
		if err == nil {
			t.Fatalf("%d is accepted", i)
		}
		refused(t, err)
	}
	for i, text := range []string{
		`{"a\nb": 1}`, `{"a\nb": 1, "a\nb": 2}`, `{"setup_min": {"a\nb": {"c\rd": "x"}}}`,
		fmt.Sprintf(`{"setup_min": {%q: {%q: "x"}}}`, long, long), fmt.Sprintf(`{%q: 1}`, long),
	} {
		_, err := ReadPlan(fuzzed, strings.NewReader(text))
		if err == nil {
			t.Fatalf("%d is accepted", i)
		}
		refused(t, err)
	}
}
