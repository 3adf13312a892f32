package journal

import (
	"context"
	"maps"
	"math"
	"slices"
	"time"
)

// End as the upper bound of Read means: as far as the journal goes.
const End uint64 = math.MaxUint64

// MaxBatch is the most records that one Append takes.
const MaxBatch = 1000

// Record is one entry of the journal in stored form. Package journal maps
// it to and from a floor.Event; below that nobody looks into it.
type Record struct {
	Seq       uint64            // contiguous from 1, given by the journal; ignored by Append
	ID        string            // the command id, which takes effect once
	Source    string            // the shop as a URI reference, "/shops/demo"; set by the journal
	Type      string            // full name of the payload's protobuf message
	Aggregate string            // dotted tokens: "seam.2207.roof-ditch-l"
	Time      time.Time         // when the fact happened
	Attrs     map[string]string // CloudEvents extension attributes, by lower-case name
	Payload   []byte            // the protobuf bytes
}

// Clone returns a copy that shares neither map nor bytes with r.
func (r Record) Clone() Record {
	r.Attrs = maps.Clone(r.Attrs)
	r.Payload = slices.Clone(r.Payload)
	return r
}

// Same reports whether two records say the same, whatever their numbers and
// sources: a retry uses it to know its own record.
func (r Record) Same(o Record) bool {
	return r.ID == o.ID && r.Type == o.Type && r.Aggregate == o.Aggregate && r.Time.Equal(o.Time) &&
		maps.Equal(r.Attrs, o.Attrs) && slices.Equal(r.Payload, o.Payload)
}

// Journal is the journal of one shop. All methods may be called from many
// goroutines. Whoever reads shares the records with others and must not change
// them. The package comment says what it promises.
type Journal interface {
	// Append stores the records directly behind number expect, all or none,
	// and returns the number of the last one. Errors: *ConflictError,
	// *TakenError, an invalid fault for an ill-formed record, an
	// unavailable fault when the outcome is not known.
	Append(ctx context.Context, expect uint64, recs ...Record) (last uint64, err error)

	// Last is the number of the last record, 0 when there is none.
	Last(ctx context.Context) (uint64, error)

	// Read calls fn for each record from number from to number to, both
	// included, in order, and ends at to or at the record that was last
	// when it began. A missing number is a *GapError; fn's error ends it.
	Read(ctx context.Context, from, to uint64, fn func(Record) error) error

	// Follow calls fn for each record from number from on, in order, those
	// to come included, until the context ends (its error is returned), fn
	// fails (its error is returned) or a number is missing (*GapError).
	Follow(ctx context.Context, from uint64, fn func(Record) error) error

	// Source is what the journal writes into each record's source.
	Source() string

	// Close ends this handle; what is stored stays.
	Close() error
}
