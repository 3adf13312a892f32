package console

import (
	"bufio"
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/durationpb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/access"
	"seamwright/services/app"
	"seamwright/services/calc/quantity"
	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/journal"
)

// Tell records one fact of any kind that the services take. Without a kind it
// lists the kinds, with a kind alone the fields of that kind.
type Tell struct {
	At
	Kind       string
	Fields     []string  // NAME=VALUE
	Name, Role string    // who says so, and what they are to the shop
	Terminal   string    // where it is told; "desk" if empty
	Ago        string    // how long ago it happened; empty: now
	ID         string    // of a fact that was told before, with an outcome that is not known; empty: a new one
	In         io.Reader // the PIN of a foreman who answers a finding
}

// oldestTold is how long ago a fact may have happened, in s: 90 days.
const oldestTold = 90 * 24 * 3600

type tellAnswer struct {
	Kind     string       `json:"kind"`
	Sequence uint64       `json:"sequence"`
	Occurred *string      `json:"occurred"`
	Repeated bool         `json:"repeated"` // it was told before under that id: sequence is the first
	Thinned  bool         `json:"thinned"`  // a reading that told nothing new: sequence is the one that stands for it
	Findings []importNote `json:"findings"`
	Withdraw string       `json:"withdraw"` // the command that takes it back; empty: none does, what really happened is told anew

	what string
}

// Lines is the answer for people.
func (a tellAnswer) Lines() []string {
	if a.Thinned {
		return []string{fmt.Sprintf("not recorded: it tells nothing new, reading #%d stands for it", a.Sequence)}
	}
	how := "recorded"
	if a.Repeated {
		how = "stood already"
	}
	out := []string{fmt.Sprintf("%s as #%d: %s", how, a.Sequence, a.what)}
	for _, f := range a.Findings {
		out = append(out, fmt.Sprintf("%-6s %s: %s", f.Severity, f.About, oneLine(f.Reason)))
	}
	if a.Withdraw == "" {
		return out
	}
	return append(out, "to take it back: "+a.Withdraw)
}

// Run tells the fact. Each run is a fact of its own: told again, it happened
// again, but under the ID that is told where an answer did not come.
func (q Tell) Run(ctx context.Context, o Out) error {
	if q.Kind == "" && len(q.Fields) == 0 {
		return o.put(kindsTold())
	}
	k, err := kindOf(q.Kind)
	if err != nil {
		return err
	}
	if len(q.Fields) == 0 {
		return o.put(k.listed())
	}
	s, err := q.stamp()
	if err != nil {
		return err
	}
	var a tellAnswer
	err = q.with(ctx, func(c grpc.ClientConnInterface) error {
		m, err := k.read(ctx, c, q.Fields)
		if err != nil {
			return err
		}
		if err := q.sign(ctx, m); err != nil {
			return err
		}
		a, err = k.record(ctx, c, s, m)
		return unsure(err, s.GetCommandId())
	})
	if err != nil {
		return err
	}
	if _, back := made(k.field.Message()).(*jobsv1.FactWithdrawn); !back {
		a.Withdraw = q.withdraw(a.Sequence)
	}
	return o.put(a)
}

// unsure says of a fact whose answer did not come how it is told again without
// being told twice.
func unsure(err error, id string) error {
	e, ok := errors.AsType[*fault.Error](err)
	if !ok {
		return err
	}
	switch e.Reason {
	case journal.ReasonUnknown, "deadline", "cancelled", "grpc-deadlineexceeded", "grpc-canceled":
	case "grpc-unavailable":
		if slices.ContainsFunc(unreached, func(s string) bool { return strings.HasPrefix(e.Message, s) }) {
			return err // it was not sent
		}
	default:
		return err
	}
	return fault.Because(err, e.Kind, "tell-unsure", "whether it was recorded is not known ("+e.Message+")",
		"tell it again in the same words with --id "+id+" and it counts once")
}

// commandID is the form of a command's identifier, as the services take it.
var commandID = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_.:-]{7,99}$`)

func (q Tell) stamp() (*floorv1.Stamp, error) {
	terminal := cmp.Or(q.Terminal, "desk")
	switch {
	case strings.TrimSpace(q.Name) == "":
		return nil, missing("--name", "the name of the person who says so, like --name 'Dov Pennywhin'; it stands in the journal")
	case q.Role == "":
		return nil, missing("--role", "what that person is to the shop: "+wordsOf(floorv1.Role(0).Descriptor()))
	case !floorID.MatchString(terminal):
		return nil, fault.Bad("--terminal", show(terminal), idForm)
	case q.ID != "" && !commandID.MatchString(q.ID):
		return nil, fault.Bad("--id", show(q.ID), "8 to 100 letters, digits and _ . : -, a letter or digit first, as it was said where an answer did not come")
	}
	role, ok := numberOf(floorv1.Role(0).Descriptor(), q.Role)
	if !ok {
		return nil, fault.Bad("--role", show(q.Role), wordsOf(floorv1.Role(0).Descriptor()))
	}
	s := &floorv1.Stamp{
		CommandId: cmp.Or(q.ID, "tell-"+rand.Text()), Actor: q.Name, Role: floorv1.Role(role), Terminal: terminal,
		Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
	}
	if q.Ago == "" {
		return s, nil
	}
	d, err := quantity.ParseDuration("--ago", q.Ago, quantity.Limits[quantity.Duration]{Most: oldestTold})
	if err == nil && d > 0 {
		s.Age = &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_CLAIMED, Length: lengthOf(d)}
	}
	return s, err
}

func lengthOf(d quantity.Duration) *durationpb.Duration {
	return durationpb.New(time.Duration(float64(d) * float64(time.Second)).Round(time.Millisecond))
}

// sign asks for the PIN of a foreman who answers a finding, as the screens do.
// It is looked up in the shop's own folder.
func (q Tell) sign(ctx context.Context, m proto.Message) error {
	if c, ok := m.(*jobsv1.FactCorrected); ok && c.GetBody() != nil {
		inner, err := c.GetBody().UnmarshalNew()
		if err != nil {
			return fault.Wrap(err, fault.Internal, "tell", "")
		}
		m = inner
	}
	if _, answer := m.(*jobsv1.FindingDisposed); !answer {
		return nil
	}
	if q.Dir == "" || q.In == nil {
		return fault.New(fault.Denied, "no-pin", "a finding is answered with a foreman's PIN, and that is looked up in the shop's folder",
			"say --dir on the shop's machine, or answer at the seam's page on a tablet")
	}
	people, err := access.Load(app.PeopleFile(q.Dir))
	if err != nil {
		return err
	}
	pin, err := bufio.NewReader(io.LimitReader(q.In, 64)).ReadString('\n')
	if err != nil && pin == "" {
		return fault.Bad("input", "nothing", "the foreman's PIN on one line")
	}
	_, err = people.Check(ctx, q.Name, strings.TrimSpace(pin), time.Now())
	return err
}

// record hands a fact to the service that takes it.
func (k factKind) record(ctx context.Context, c grpc.ClientConnInterface, s *floorv1.Stamp, m proto.Message) (tellAnswer, error) {
	req, resp := made(k.method.Input()), made(k.method.Output())
	in, out := req.ProtoReflect(), resp.ProtoReflect()
	in.Set(in.Descriptor().Fields().ByName("stamp"), protoreflect.ValueOfMessage(s.ProtoReflect()))
	in.Set(k.field, protoreflect.ValueOfMessage(m.ProtoReflect()))
	if err := c.Invoke(ctx, "/"+string(k.method.Parent().FullName())+"/"+string(k.method.Name()), req, resp); err != nil {
		return tellAnswer{}, err
	}
	r := out.Get(out.Descriptor().Fields().ByName("receipt")).Message().Interface().(*floorv1.Receipt)
	a := tellAnswer{Repeated: r.GetRepeated(), Kind: k.name(), Sequence: r.GetSequence(), Occurred: maybeMoment(r.GetOccurred()), Findings: []importNote{}}
	if t := out.Descriptor().Fields().ByName("thinned"); t != nil {
		a.Thinned = out.Get(t).Bool()
	}
	a.what = strings.Join(append([]string{words(string(m.ProtoReflect().Descriptor().Name()))}, details(m.ProtoReflect(), "")...), ", ")
	for _, f := range r.GetFindings() {
		a.Findings = append(a.Findings, importNote{floor.Word(f.GetSeverity()), strings.Replace(oneLine(f.GetSubject()), "/", " ", 1), f.GetRule(), f.GetReason()})
	}
	return a, nil
}

// withdraw is the command that takes a fact back.
func (q Tell) withdraw(seq uint64) string {
	words := []string{"seamwright tell fact-withdrawn", "sequence=" + strconv.FormatUint(seq, 10), "why=WHY", "--name", shell(q.Name), "--role", q.Role}
	for _, f := range [][2]string{{"--terminal", q.Terminal}, {"--address", q.Address}, {"--dir", q.Dir}, {"--nats", q.NATS}, {"--shop", q.Shop}} {
		if f[1] != "" && f[0] != "--nats" { // an address of a bus may hold a password
			words = append(words, f[0], shell(f[1]))
		}
	}
	if q.NATS != "" {
		words = append(words, "--nats", "URL")
	}
	return strings.Join(words, " ")
}

// shell quotes a word as a shell reads it.
func shell(text string) string {
	if floorID.MatchString(strings.NewReplacer("/", "", ".", "", ":", "").Replace(text)) {
		return text
	}
	return "'" + strings.ReplaceAll(oneLine(text), "'", `'\''`) + "'"
}
