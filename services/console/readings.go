package console

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"time"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	"seamwright/services/fault"
	"seamwright/services/intake"
)

// trace is what a logger noted in one zone.
type trace struct {
	zone     string
	readings []intake.Reading
}

func (q Import) readReadings(in *imported) error {
	if q.Readings == "" {
		return nil
	}
	paths, err := filepath.Glob(filepath.Join(q.Readings, "*.csv"))
	if err != nil || len(paths) == 0 {
		return fault.Bad("--readings", show(q.Readings), "a folder with at least one file ending in .csv, named for its zone")
	}
	for _, path := range paths { // sorted
		rs, err := readFile("--readings", path, intake.ReadReadings)
		if err != nil {
			return err
		}
		if len(rs) > 0 {
			in.readings = append(in.readings, trace{strings.TrimSuffix(filepath.Base(path), ".csv"), rs})
		}
	}
	return nil
}

// perCall is how many readings are told at once: each that is kept is on
// disk before the next.
const (
	perCall    = 500
	traceLimit = 30 * time.Second
)

// trace tells the readings of a zone.
func (t *teller) trace(ctx context.Context, tr trace) error {
	for part := range slices.Chunk(tr.readings, perCall) {
		req := &curesv1.TakeReadingsRequest{ZoneId: tr.zone, ProbeId: tr.zone}
		for _, r := range part {
			req.Samples = append(req.Samples, sample(r))
		}
		req.Stamp = t.stamp(contentID(req, 0))
		ctx, cancel := context.WithTimeout(ctx, traceLimit)
		r, err := t.cures.TakeReadings(ctx, req)
		cancel()
		if err != nil {
			return fmt.Errorf("readings of %s: %w", tr.zone, err)
		}
		n := &t.answer.Readings
		n.Stored, n.Thinned = n.Stored+int(r.GetStored()), n.Thinned+int(r.GetThinned())
		n.Known += len(part) - int(r.GetStored()) - int(r.GetThinned())
		t.answer.Sequence = max(t.answer.Sequence, r.GetSequence())
	}
	return nil
}
