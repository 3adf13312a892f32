package app_test

import (
	"encoding/json"
	"fmt"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/santhosh-tekuri/jsonschema/v6"
	"go.yaml.in/yaml/v3"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
)

// channels is the document of the bus's channels.
type channels struct {
	tree     any
	Channels map[string]struct {
		Address    string
		Servers    []ref
		Parameters map[string]struct{ Enum []string }
		Messages   map[string]ref
	}
	Components struct {
		Messages map[string]struct{ Payload, Headers any }
	}
	rules *jsonschema.Compiler
	used  map[string]int // channels, by what was matched
}

type ref struct {
	Ref string `json:"$ref"`
}

const docURL = "asyncapi.json"

// readChannels reads proto/asyncapi.yaml.
func readChannels(t *testing.T) *channels {
	t.Helper()
	b, err := os.ReadFile("../../proto/asyncapi.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var tree any
	if err := yaml.Unmarshal(b, &tree); err != nil {
		t.Fatal(err)
	}
	// By way of JSON, the form that the schemas are about.
	if b, err = json.Marshal(tree); err != nil {
		t.Fatal(err)
	}
	d := &channels{used: map[string]int{}, rules: jsonschema.NewCompiler()}
	if err := json.Unmarshal(b, d); err != nil {
		t.Fatal(err)
	}
	if d.tree, err = jsonschema.UnmarshalJSON(strings.NewReader(string(b))); err != nil {
		t.Fatal(err)
	}
	d.rules.DefaultDraft(jsonschema.Draft7) // what AsyncAPI 3.0.0 builds its schemas on
	d.rules.AssertFormat()
	if err := d.rules.AddResource(docURL, d.tree); err != nil {
		t.Fatal(err)
	}
	return d
}

// asyncAPI is the schema of AsyncAPI 3.0.0 as its makers publish it.
func asyncAPI(t *testing.T) *jsonschema.Schema {
	t.Helper()
	f, err := os.Open("../../testdata/asyncapi/3.0.0.json")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	schema, err := jsonschema.UnmarshalJSON(f)
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("http://asyncapi.com/definitions/3.0.0/asyncapi.json", schema); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("http://asyncapi.com/definitions/3.0.0/asyncapi.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestTheChannelsDocumentIsAsyncAPI(t *testing.T) {
	d, s := readChannels(t), asyncAPI(t)
	if err := s.Validate(d.tree); err != nil {
		t.Fatalf("proto/asyncapi.yaml is no AsyncAPI 3.0.0: %v", err)
	}
	// The schema can say no, and every reference leads somewhere.
	text, err := json.Marshal(d.tree)
	if err != nil {
		t.Fatal(err)
	}
	for old, with := range map[string]string{
		`"asyncapi":"3.0.0"`: `"asyncapi":"2.0.0"`, `"action":"send"`: `"action":"shout"`, `"address":"heard.`: `"adress":"heard.`,
		`"protocol":"mqtt",`: ``, `"type":"userPassword"`: `"type":"handshake"`,
	} {
		broken := strings.Replace(string(text), old, with, 1)
		v, err := jsonschema.UnmarshalJSON(strings.NewReader(broken))
		if err != nil || broken == string(text) || s.Validate(v) == nil {
			t.Errorf("with %s in place of %s it is taken (%v)", with, old, err)
		}
	}
	for _, m := range regexp.MustCompile(`"\$ref":"#(/[^"]*)"`).FindAllStringSubmatch(string(text), -1) {
		at := d.tree
		for step := range strings.SplitSeq(m[1][1:], "/") {
			o, _ := at.(map[string]any)
			at = o[step]
		}
		if at == nil {
			t.Errorf("a reference to %s leads nowhere", m[1])
		}
	}
}

// The document's types are the events that the contracts define: every
// message of an events.proto that is not only a part of another.
func TestTheChannelsDocumentNamesEveryEvent(t *testing.T) {
	var want []string
	parts := map[protoreflect.FullName]bool{}
	var events []protoreflect.MessageDescriptor
	protoregistry.GlobalFiles.RangeFiles(func(f protoreflect.FileDescriptor) bool {
		if !strings.HasPrefix(f.Path(), "seamwright/") || !strings.HasSuffix(f.Path(), "/events.proto") {
			return true
		}
		for i := range f.Messages().Len() {
			m := f.Messages().Get(i)
			events = append(events, m)
			for k := range m.Fields().Len() {
				if of := m.Fields().Get(k).Message(); of != nil {
					parts[of.FullName()] = true
				}
			}
		}
		return true
	})
	for _, m := range events {
		if !parts[m.FullName()] {
			want = append(want, string(m.FullName()))
		}
	}
	slices.Sort(want)
	s, err := readChannels(t).rules.Compile(docURL + "#/components/schemas/eventHeaders/properties/ce-type")
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, v := range s.Enum.Values {
		got = append(got, fmt.Sprint(v))
	}
	slices.Sort(got)
	if diff := cmp.Diff(want, got); diff != "" || len(want) < 50 {
		t.Errorf("events (-contracts +document)\n%s", diff)
	}
}

// match finds the one channel of a server that an address belongs to.
func (d *channels) match(server, address string) (string, error) {
	sep := "."
	if server == "mqtt" {
		sep = "/"
	}
	var found []string
	for name, c := range d.Channels {
		if c.Servers[0].Ref == "#/servers/"+server && fits(strings.Split(c.Address, sep), strings.Split(address, sep), func(p string) []string { return c.Parameters[p].Enum }) {
			found = append(found, name)
		}
	}
	if len(found) != 1 {
		return "", fmt.Errorf("%s on %s matches the channels %v, want one", address, server, found)
	}
	d.used[found[0]]++
	return found[0], nil
}

// identifier is what the document says that a parameter is.
var identifier = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_-]{0,47}$`)

func fits(pattern, address []string, enum func(string) []string) bool {
	if len(pattern) != len(address) {
		return false
	}
	for i, p := range pattern {
		name, isParam := strings.CutPrefix(p, "{")
		name = strings.TrimSuffix(name, "}")
		switch {
		case !isParam && p != address[i]:
			return false
		case isParam && !identifier.MatchString(address[i]):
			return false
		case isParam && len(enum(name)) > 0 && !slices.Contains(enum(name), address[i]):
			return false
		}
	}
	return true
}

// check validates a message of a channel: its JSON, or the headers of an event.
func (d *channels) check(channel string, headers map[string]any, data []byte) error {
	for _, m := range d.Channels[channel].Messages {
		name := strings.TrimPrefix(m.Ref, "#/components/messages/")
		at, value := "#/components/messages/"+name+"/payload", any(nil)
		if d.Components.Messages[name].Headers != nil {
			at, value = "#/components/messages/"+name+"/headers", headers
		} else {
			v, err := jsonschema.UnmarshalJSON(strings.NewReader(string(data)))
			if err != nil {
				return fmt.Errorf("%s: %w", channel, err)
			}
			value = v
		}
		s, err := d.rules.Compile(docURL + at)
		if err != nil {
			return err
		}
		if err := s.Validate(value); err != nil {
			return fmt.Errorf("%s: %s: %w", channel, data, err)
		}
	}
	return nil
}

// Messages that are none are refused by the document as by the program.
func TestTheChannelsDocumentRefuses(t *testing.T) {
	d := readChannels(t)
	for _, c := range []struct{ channel, data string }{
		{"gate", `{"booth":"B1","holder":"g","beat":1,"sign":"CLEAR","reasons":[],"sequence":1,"now":"2026-03-02T10:00:00Z"}`},
		{"gate", `{"booth":"B1","holder":"g","beat":0,"sign":"HOLD","reasons":[],"sequence":1,"now":"2026-03-02T10:00:00Z"}`},
		{"gate", `{"booth":"B1","holder":"g","beat":1,"sign":"HOLD","reasons":[],"sequence":1,"now":"ten"}`},
		{"gate", `{"booth":"B1","holder":"g","beat":1,"sign":"OVERRIDE","load":"L","permit":"p","reasons":[],"sequence":1,"now":"2026-03-02T10:00:00Z"}`},
		{"probe", `201`},
		{"probe", `"21"`},
		{"probe", `{"temp_c":21}`},
		{"probe", `{"time":"2026-03-02T10:00:00Z","temp_c":21,"zone":"bay-2"}`},
		{"alive", `{"service":"jobs"}`},
		{"heard", `{}`},
	} {
		if err := d.check(c.channel, nil, []byte(c.data)); err == nil {
			t.Errorf("%s: %s is taken", c.channel, c.data)
		}
	}
	for _, address := range []string{"shop.demo.seam.2207", "shop.demo.thing.1", "probe.demo.bay-1", "gate.demo.B1.x", "gate.demo.B 1", "alive.demo.sales.x"} {
		if c, err := d.match("nats", address); err == nil {
			t.Errorf("%s is taken for %s", address, c)
		}
	}
}
