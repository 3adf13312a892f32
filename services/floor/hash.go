package floor

import (
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"
)

// Hash is the SHA-256 of the floor's canonical form, hexadecimal. Two floors
// that applied the same events have the same hash.
func (fl *Floor) Hash() string {
	h := sha256.New()
	fl.Canonical(h)
	return hex.EncodeToString(h.Sum(nil))
}

// Canonical writes the floor's state in its one canonical form: a line a
// thing, things by kind and identifier, numbers as integers (moments in
// milliseconds, volumes in microlitres, temperatures in thousandths of a
// degree). It serves comparison, not storage.
func (fl *Floor) Canonical(w io.Writer) {
	c := canon{bufio.NewWriter(w)}
	defer c.w.Flush() // a hash takes every write
	c.line("floor", fl.seq, fl.last)
	for _, id := range fl.Jobs() {
		c.job(fl.jobs[id])
	}
	for _, id := range fl.Seams() {
		c.seam(fl.seams[id])
		for _, p := range fl.seamStretches(fl.book, fl.seams[id]) {
			c.line("seam-in", id, p.from, p.now, fmt.Sprint(p.zones), len(p.fixed))
			for _, x := range p.fixed {
				c.line("seam-heat", id, p.from, x.Set.Lo, x.Set.Hi, x.NominalC)
			}
		}
	}
	for _, ro := range sortedKeys(fl.where) {
		c.where(ro, fl.where[ro])
	}
	for _, id := range fl.Cartridges() {
		c.cartridge(fl.cartridges[id])
	}
	for _, id := range fl.Nozzles() {
		n := fl.nozzles[id]
		c.line("nozzle", id, n.Kind, n.Cartridge, n.Fitted, n.On, len(n.said))
		for _, began := range sortedKeys(n.said) {
			c.line("nozzle-said", id, began, n.said[began].seq, n.said[began].due)
		}
	}
	for _, id := range fl.Lots() {
		l := fl.lots[id]
		c.line("lot", id, l.Product, l.Received, l.Expires, l.Recalled, l.Why, l.Shelf, l.Opened, l.Missing, l.Cost, l.Currency)
	}
	for _, id := range fl.Products() {
		for _, f := range fl.book.of(id.key()) {
			raw, err := proto.MarshalOptions{Deterministic: true}.Marshal(f.body)
			c.line("product", id, f.seq, f.at, fmt.Sprintf("%x", raw), err)
		}
	}
	for _, id := range fl.Zones() {
		c.zone(fl.zones[id])
	}
	fl.canonBooth(c)
	for _, s := range fl.AllFindings() {
		c.line("finding", s.ID, s.Rule, s.Severity, s.Subject, s.About, s.Reason, s.Raised, s.Lapsed, int(s.Answer), s.AnsweredBy, s.AnsweredAt, s.AnswerText, s.done)
	}
	for i, e := range fl.log {
		if e.withdrawn {
			c.line("withdrawn", i+1)
		}
	}
	for _, t := range sortedKeys(fl.heard) {
		c.line("terminal", t, fl.TerminalZone(t), fl.heard[t])
	}
}

func (fl *Floor) canonBooth(c canon) {
	for _, id := range fl.Booths() {
		b := fl.booths[id]
		c.line("booth", id, b.Zone, b.FirstCoat, b.Process, int(b.Phase), b.PhaseFrom, b.PhaseEnds, b.Fault, b.Loaded, b.Colour, b.Next, len(b.Hours), len(b.Setups), fmt.Sprint(b.Coats))
		for _, h := range b.Hours {
			c.line("booth-open", id, h.From, h.To)
		}
	}
	for _, id := range sortedKeys(fl.issued) {
		for _, p := range fl.issued[id] {
			c.line("permit", id, p.ID, p.Load, p.Holder, p.Issued, p.StartBy, p.Override, p.By, strings.Join(p.Over, ","), p.Untouched, p.Seq, p.Revoked, p.ended)
		}
	}
	for _, id := range fl.Loads() {
		l := fl.loads[id]
		c.line("load", id, l.Booth, l.RO, l.Colour, l.Coat, l.Start, l.Sprayed, l.Permit, l.Finished, l.firstCoat, l.process, fmt.Sprint(l.Seams),
			l.Told, l.Keep, l.Moved, l.Reason, fmt.Sprint(l.Also))
	}
}

type canon struct{ w *bufio.Writer }

func (c canon) line(kind string, vs ...any) {
	b := append(c.w.AvailableBuffer(), kind...)
	for _, v := range vs {
		b = canonical(append(b, '|'), v)
	}
	_, _ = c.w.Write(append(b, '\n'))
}

// canonical appends a value.
func canonical(b []byte, v any) []byte {
	switch v := v.(type) {
	case time.Time:
		if v.IsZero() {
			return append(b, '-')
		}
		return strconv.AppendInt(b, v.UnixMilli(), 10)
	case time.Duration:
		return strconv.AppendInt(b, v.Milliseconds(), 10)
	case float64:
		return strconv.AppendInt(b, int64(math.Round(v*1000)), 10)
	case string:
		return strconv.AppendQuote(b, v)
	}
	return fmt.Append(b, v)
}

func (c canon) job(j *Job) {
	c.line("job", j.RO, j.Vehicle, j.VIN, j.PaintColour, fmt.Sprint(j.Coats), j.Promised, j.Weight, j.AfterBooth, j.State, j.Opened)
}

func (c canon) seam(s *Seam) {
	c.line("seam", s.ID, s.Panel, s.Place, s.Side, s.LengthMM, s.SheetMM, s.Orientation, s.Finish, s.Found, s.Substrate, s.DrainHoles, s.Hidden,
		s.Stage, s.CoatedAt, s.CoatedWith, s.Photos, s.Waxed, s.Reworks, s.PreppedAt, s.firstCoat, s.flowedOut, s.opened, s.closed,
		s.cured, s.tested, s.accepted, s.elsewhere)
	r := s.Reference
	c.line("seam-reference", s.ID, r.Source, r.Class, r.Profile, r.Colour, r.WidthMM, r.HeightMM, r.Lab != nil)
	if p := s.Procedure; p != nil {
		c.line("seam-procedure", s.ID, p.Text, strings.Join(p.Overrides, ","))
	}
	if p := s.Plan; p != nil {
		c.line("seam-plan", s.ID, p.Product, p.Profile, p.WidthMM, p.HeightMM, p.Technique, p.Nozzle, int64(p.Volume))
	}
	if b := s.Bead; b != nil {
		c.line("seam-bead", s.ID, b.Began, fmt.Sprint(b.Layers), b.ReadyFrom, b.SpentFrom, b.Ended, b.Technique, b.Profile, b.Elsewhere,
			b.By, b.Tooled, b.Deaired, b.Disturbed)
		if b.Product != nil {
			c.line("seam-product", s.ID, b.Product.ID, b.Product.Revision)
		}
		if b.Scuffed != nil {
			c.line("seam-scuff", s.ID, b.Scuffed.Began, b.Scuffed.At)
		}
	}
	if u := s.under; u != nil {
		c.line("seam-under", s.ID, u.sequence, u.at, u.dryMin, u.recoat, u.scuffed)
	}
	var said []string
	for w, a := range s.said {
		said = append(said, fmt.Sprintf("%d/%s/%d=%d@%d", w.Clock, w.Coat, w.Began, a.seq, a.due.UnixMilli()))
	}
	slices.Sort(said)
	c.line("seam-said", s.ID, strings.Join(said, ","))
}

func (c canon) where(ro RO, w *whereabouts) {
	c.line("tablet", ro, w.tablet)
	for _, m := range w.car {
		c.line("car", ro, m.zone, m.early, m.late)
	}
	for _, p := range sortedKeys(w.panels) {
		for _, m := range w.panels[p] {
			c.line("panel", ro, p, m.zone, m.early, m.late, w.off[p])
		}
	}
}

func (c canon) cartridge(t *Cartridge) {
	c.line("cartridge", t.ID, t.Lot, t.Product, t.Opened, t.Equalised, t.Nozzle, t.Purged, t.FittedSeq, t.LastFlow.At, t.LastFlow.Early,
		t.LastFlow.Seq, int64(t.Full), int64(t.Remaining), int64(t.Laid), int64(t.Spent), int64(t.Discarded), int64(t.Missing), t.Emptied, t.Stored)
	for _, u := range t.uses {
		c.line("use", t.ID, u.f.seq, u.f.lay.pass, int64(u.volume))
	}
	for _, w := range t.wastes {
		c.line("waste", t.ID, w.f.seq, w.kind, w.known, int64(w.volume), w.to)
	}
}

func (c canon) zone(z *zoneOf) {
	c.line("zone", z.ID, z.Works, fmt.Sprint(z.Terminals), fmt.Sprint(z.course.Zone()), z.last, z.jumped)
	seen := z.course.Hindsight()
	for _, r := range z.course.Readings() {
		set := seen.Edges(r.At)
		c.line("reading", z.ID, r.At, r.C, set.Lo, set.Hi)
	}
	for _, h := range z.humid {
		c.line("humid", z.ID, h.at, h.c, h.rh, h.seq)
	}
}
