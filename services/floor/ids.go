package floor

import (
	"fmt"
	"strings"
)

// Identifiers are types, so that a seam cannot be handed in for a panel. The
// zero value means unset.
type (
	// RO is a job's repair-order number, "2207".
	RO string
	// SeamID names a seam as "<ro>/<seam>".
	SeamID string
	// PanelID names a panel within its job.
	PanelID string
	// ZoneID names a room with one temperature.
	ZoneID string
	// BoothID names a booth or prep station.
	BoothID string
	// LoadID names what a booth takes at once.
	LoadID string
	// ProductID names a product.
	ProductID string
	// LotID names a lot of a product.
	LotID string
	// CartridgeID names an opened cartridge.
	CartridgeID string
	// NozzleID names a nozzle.
	NozzleID string
)

// RO is the job that the seam belongs to.
func (s SeamID) RO() RO {
	ro, _, _ := strings.Cut(string(s), "/")
	return RO(ro)
}

// key names the thing that a fact is about, as kind and identifier:
// "seam/2207/rd-l". It is also a finding's subject.
type key string

func (s SeamID) key() key      { return key("seam/" + string(s)) }
func (r RO) key() key          { return key("job/" + string(r)) }
func (r RO) where() key        { return key("where/" + string(r)) }
func (z ZoneID) key() key      { return key("zone/" + string(z)) }
func (b BoothID) key() key     { return key("booth/" + string(b)) }
func (l LoadID) key() key      { return key("load/" + string(l)) }
func (p ProductID) key() key   { return key("product/" + string(p)) }
func (l LotID) key() key       { return key("lot/" + string(l)) }
func (c CartridgeID) key() key { return key("cartridge/" + string(c)) }
func (n NozzleID) key() key    { return key("nozzle/" + string(n)) }

// split is the inverse of the key methods.
func (k key) split() (kind, id string) {
	kind, id, _ = strings.Cut(string(k), "/")
	return kind, id
}

// aggregate is the journal's dotted form of a key: "seam.2207.rd-l".
func (k key) aggregate() string { return strings.ReplaceAll(string(k), "/", ".") }

// FindingID names a finding by the event that it stands in and its place
// there, "128.1".
type FindingID string

func findingID(seq uint64, n int) FindingID { return FindingID(fmt.Sprintf("%d.%d", seq, n+1)) }

// Aggregate is the journal's name of a seam, "seam.2207.rd-l".
func (s SeamID) Aggregate() string { return s.key().aggregate() }

// Aggregate is the journal's name of a booth, "booth.booth-1".
func (b BoothID) Aggregate() string { return b.key().aggregate() }

// Subject is a booth as findings and reasons name it, "booth/booth-1".
func (b BoothID) Subject() string { return string(b.key()) }

// Subject is a load as findings and reasons name it, "load/2207-A".
func (l LoadID) Subject() string { return string(l.key()) }

// Subject is a seam as findings and reasons name it, "seam/2207/rd-l".
func (s SeamID) Subject() string { return string(s.key()) }

// Aggregate is the journal's name of a load, "load.2207-A".
func (l LoadID) Aggregate() string { return l.key().aggregate() }
