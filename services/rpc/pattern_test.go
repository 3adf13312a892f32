package rpc_test

import (
	"errors"
	"regexp"
	"strings"
	"testing"

	"buf.build/gen/go/bufbuild/protovalidate/protocolbuffers/go/buf/validate"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
	"google.golang.org/protobuf/types/dynamicpb"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/fault"
	"seamwright/services/rpc"
)

// Whoever mistypes an identifier is told in words what it may hold.
func TestAPatternIsSaidInWords(t *testing.T) {
	for _, c := range []struct {
		m    proto.Message
		want string
	}{
		{&curesv1.ShowFitRequest{ProductId: "not an id"}, `product_id: "not an id": must be an identifier of 1 to 48 letters A to Z, digits, - and _`},
		{&materialsv1.PlanRunRequest{ZoneId: "bay 1"}, `zone_id: "bay 1": must be an identifier`},
		{laid(&jobsv1.BeadLaid{SeamId: "roof ditch"}), `bead_laid.seam_id: "roof ditch": must be a job and a seam, like 2207/rd-l`},
	} {
		if err := rpc.Check(c.m); err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "A-Za-z") {
			t.Errorf("%v, want %q", err, c.want)
		}
	}
}

// TestEveryPatternHasItsWords sends a text that breaks it to every field with
// a pattern, of every message of this program.
func TestEveryPatternHasItsWords(t *testing.T) {
	const wrong = "\x01 no form has this \x02"
	asked := 0
	protoregistry.GlobalFiles.RangeFiles(func(f protoreflect.FileDescriptor) bool {
		if !strings.HasPrefix(string(f.Package()), "seamwright.") {
			return true
		}
		messages(f.Messages(), func(d protoreflect.MessageDescriptor) {
			for i := range d.Fields().Len() {
				fd := d.Fields().Get(i)
				rules, ok := proto.GetExtension(fd.Options(), validate.E_Field).(*validate.FieldRules)
				pattern := rules.GetString().GetPattern() + rules.GetRepeated().GetItems().GetString().GetPattern()
				if !ok || pattern == "" {
					continue
				}
				if regexp.MustCompile(pattern).MatchString(wrong) {
					t.Fatalf("%s: %s takes %q", fd.FullName(), pattern, wrong)
				}
				m := dynamicpb.NewMessage(d)
				if v := protoreflect.ValueOfString(wrong); fd.IsList() {
					m.Mutable(fd).List().Append(v)
				} else {
					m.Set(fd, v)
				}
				asked++
				if words := limitAt(rpc.Check(m), string(fd.Name())); words == "" || strings.Contains(words, "another form") || strings.ContainsAny(words, `[]{}^$\`) {
					t.Errorf("%s: %q", fd.FullName(), words)
				}
			}
		})
		return true
	})
	if asked < 50 {
		t.Errorf("%d fields with a pattern found", asked)
	}
}

// messages visits messages and those within them.
func messages(all protoreflect.MessageDescriptors, visit func(protoreflect.MessageDescriptor)) {
	for i := range all.Len() {
		visit(all.Get(i))
		messages(all.Get(i).Messages(), visit)
	}
}

// limitAt is what an error says about one field, by its name or its first item.
func limitAt(err error, field string) string {
	if e, ok := errors.AsType[*fault.Error](err); ok {
		for _, f := range e.Fields {
			if f.Path == field || f.Path == field+"[0]" {
				return f.Limit
			}
		}
	}
	return ""
}
