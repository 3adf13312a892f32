package floor

import (
	"time"

	"google.golang.org/protobuf/proto"
)

// RulesVersion is written into every event's header: the version of the
// rules and of the cure model under which its findings were decided. Replay
// never decides again; a reader of an old event can tell which rules it had.
const RulesVersion = "2026.1"

// Role is what a person or a machine is to the shop.
type Role string

// The roles of the shop.
const (
	Technician Role = "technician"
	Painter    Role = "painter"
	Foreman    Role = "foreman"
	Materials  Role = "materials"
	Inspector  Role = "inspector"
	Machine    Role = "machine" // a probe, a booth controller, a service of ours
)

// AgeKind says how the length of time between a fact and its receipt is known.
type AgeKind string

// The kinds of age. The zero value is refused at the door.
const (
	AgeLive      AgeKind = "live"      // told as it happened
	AgeMeasured  AgeKind = "measured"  // by the terminal's own running clock, trusted
	AgeUncertain AgeKind = "uncertain" // measured, but the terminal's clock jumped: an interval
	AgeClaimed   AgeKind = "claimed"   // a person's word: counts to the safe side only
	AgeSigned    AgeKind = "signed"    // a person's word, signed by a foreman
)

// Header is what every event carries beside its body. All moments are the
// server's: occurred = received - age, and never later than received.
type Header struct {
	CommandID string // made once by the terminal; the same id takes effect once
	Actor     string // who says so, by name
	Role      Role
	Terminal  string
	AgeKind   AgeKind
	Received  time.Time // when the server heard it
	Occurred  time.Time // best knowledge of when it happened: facts are ordered by it
	Earliest  time.Time // the interval that it surely happened in; what must not be
	Latest    time.Time // passed counts from Earliest, what must be reached from Latest
	Rules     string    // RulesVersion at the decision
}

// Event is one entry of the shop's journal in decoded form.
type Event struct {
	Seq       uint64 // the journal's own contiguous number, from 1; 0: not yet appended
	Aggregate string // dotted tokens: "seam.2207.roof-ditch-l", "zone.bay-1", "lot.L204"
	Header
	Body proto.Message // the generated message of its type
}

// Type is the full protobuf name of the body, "seamwright.jobs.v1.BeadLaid".
func (e Event) Type() string { return string(e.Body.ProtoReflect().Descriptor().FullName()) }

// Own is the beginning of an event that a service of the shop makes by itself
// at a moment, told under the service's name: in whole milliseconds, as the
// journal counts them, and never before the floor's newest event. Aggregate
// and body are still to be set.
func (fl *Floor) Own(service, commandID string, now time.Time) Event {
	now = now.UTC().Truncate(time.Millisecond)
	if now.Before(fl.last) {
		now = fl.last
	}
	return Event{Header: Header{
		CommandID: commandID, Actor: service, Role: Machine, Terminal: service, AgeKind: AgeLive,
		Received: now, Occurred: now, Earliest: now, Latest: now, Rules: RulesVersion,
	}}
}
