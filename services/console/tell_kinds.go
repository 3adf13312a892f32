package console

import (
	"fmt"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/fault"
	"seamwright/services/rpc"
)

// factKind is a kind of fact that a service's Record takes, as its contract
// has it.
type factKind struct {
	method protoreflect.MethodDescriptor
	field  protoreflect.FieldDescriptor // of the request
}

// name is the kind in the words of the journal: "lot-recalled".
func (k factKind) name() string { return strings.ReplaceAll(string(k.field.Name()), "_", "-") }

// factKinds are the kinds of all services, in the order of their contracts.
func factKinds() []factKind {
	var out []factKind
	for _, s := range []protoreflect.ServiceDescriptor{
		jobsv1.File_seamwright_jobs_v1_service_proto.Services().ByName("JobsService"),
		materialsv1.File_seamwright_materials_v1_service_proto.Services().ByName("MaterialsService"),
		curesv1.File_seamwright_cures_v1_service_proto.Services().ByName("CuresService"),
		boothv1.File_seamwright_booth_v1_service_proto.Services().ByName("BoothService"),
	} {
		m := s.Methods().ByName("Record")
		facts := m.Input().Oneofs().ByName("fact").Fields()
		for i := range facts.Len() {
			out = append(out, factKind{m, facts.Get(i)})
		}
	}
	return out
}

func kindOf(name string) (factKind, error) {
	var names []string
	for _, k := range factKinds() {
		if k.name() == strings.ReplaceAll(name, "_", "-") {
			return k, nil
		}
		names = append(names, k.name())
	}
	if name == "" {
		return factKind{}, missing("KIND", "one of "+strings.Join(names, ", "))
	}
	return factKind{}, fault.Bad("KIND", show(name), "one of "+strings.Join(names, ", "))
}

// made is an empty message of a type.
func made(d protoreflect.MessageDescriptor) proto.Message {
	t, err := protoregistry.GlobalTypes.FindMessageByName(d.FullName())
	if err != nil {
		panic(err) // every type of the contract is compiled in
	}
	return t.New().Interface()
}

// serverWritten are the fields that no person tells: what was wrong, what was
// planned, what the planner moved.
var serverWritten = map[protoreflect.Name]bool{"assessment": true, "planned_ml": true, "moved": true}

func toldFields(d protoreflect.MessageDescriptor) []protoreflect.FieldDescriptor {
	var out []protoreflect.FieldDescriptor
	for i := range d.Fields().Len() {
		if f := d.Fields().Get(i); !serverWritten[f.Name()] {
			out = append(out, f)
		}
	}
	return out
}

// needed reports which fields of a kind must be told: those that the contract
// does not take empty, and every number and yes or no that cannot be left
// open, for what is not known must not become 0 or no.
func (k factKind) needed() map[string]bool {
	out := map[string]bool{}
	for _, f := range faults(rpc.Check(made(k.field.Message()))) {
		out[f] = true
	}
	for _, f := range toldFields(k.field.Message()) {
		plain := f.Kind() != protoreflect.StringKind && f.Kind() != protoreflect.EnumKind
		if plain && !f.IsList() && !f.HasPresence() {
			out[string(f.Name())] = true
		}
	}
	return out
}

type fieldTold struct {
	Field  string `json:"field"`
	Kind   string `json:"kind"`
	Needed bool   `json:"needed"`
}

type kindAnswer struct {
	Kind   string      `json:"kind"`
	Fields []fieldTold `json:"fields"`
}

func (k factKind) listed() kindAnswer {
	a, needed := kindAnswer{Kind: k.name()}, k.needed()
	for _, f := range leaves(k.field.Message(), "") {
		f.Needed = needed[f.Field]
		a.Fields = append(a.Fields, f)
	}
	return a
}

// Lines is the list for people.
func (a kindAnswer) Lines() []string {
	rows := [][]string{{"field", "must", "what"}}
	for _, f := range a.Fields {
		must := ""
		if f.Needed {
			must = "yes"
		}
		rows = append(rows, []string{f.Field, must, f.Kind})
	}
	return append([]string{"seamwright tell " + a.Kind + " FIELD=VALUE... --name NAME --role ROLE"}, table(rows)...)
}

// leaves are the fields that take a value, those within others by their path.
func leaves(d protoreflect.MessageDescriptor, at string) []fieldTold {
	var out []fieldTold
	for _, f := range toldFields(d) {
		name := at + string(f.Name())
		switch {
		case isAny(f):
			out = append(out, fieldTold{Field: name + ".FIELD", Kind: "a field of the fact that is corrected, as it should have been told; its others stay"})
		case within(f) && f.IsList():
			out = append(out, leaves(f.Message(), name+".1.")...)
		case within(f):
			out = append(out, leaves(f.Message(), name+".")...)
		default:
			out = append(out, fieldTold{Field: name, Kind: kindWords(f)})
		}
	}
	return out
}

// fieldWords are the fields of a kind with what each takes, on one line.
func (k factKind) fieldWords() string {
	var out []string
	for _, f := range leaves(k.field.Message(), "") {
		out = append(out, fmt.Sprintf("%s (%s)", f.Field, f.Kind))
	}
	return strings.Join(out, ", ")
}

type kindsAnswer struct {
	Kinds []string `json:"kinds"`
}

func kindsTold() kindsAnswer {
	var a kindsAnswer
	for _, k := range factKinds() {
		a.Kinds = append(a.Kinds, k.name())
	}
	return a
}

// Lines is the list for people.
func (a kindsAnswer) Lines() []string {
	return append(append([]string{}, a.Kinds...), "", "the fields of one: seamwright tell KIND")
}
