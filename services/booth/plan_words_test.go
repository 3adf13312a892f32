package booth_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/booth"
	"seamwright/services/fault"
	"seamwright/services/record/recordtest"
)

// open tells a booth's hours, so long after the house's morning at 07:30.
func (h *planned) open(booth string, from, to time.Duration) {
	h.t.Helper()
	h.Tell(h.t, &boothv1.BoothDefined{BoothId: booth, ZoneId: "room", FirstCoatMin: 20, ProcessMin: 60, Open: []*floorv1.Interval{
		{From: timestamppb.New(recordtest.Monday.Add(from)), To: timestamppb.New(recordtest.Monday.Add(to))},
	}})
}

// byHand puts 2207-A into booth-1, so long after half past seven.
func (h *planned) byHand(in time.Duration) {
	h.t.Helper()
	h.Tell(h.t, &boothv1.LoadPlanned{
		LoadId: "2207-A", BoothId: "booth-1", Ro: "2207", Colour: "blue", SeamIds: []string{seam},
		Start: timestamppb.New(recordtest.Monday.Add(in)), Keep: boothv1.Keep_KEEP_START,
	})
}

// TestThePlansReasons: why a load stands there, in the shop's words.
func TestThePlansReasons(t *testing.T) {
	for name, c := range map[string]struct {
		do   func(h *planned)
		load string
		why  string
	}{
		"without a promise": {func(*planned) {}, "2207-A", "waits for roof ditch L until 09:06; 33 h 59 min of slack before too long has passed since roof ditch L"},
		"late":              {func(h *planned) { h.promise("2207", time.Hour, 1) }, "2207-A", "waits for roof ditch L until 09:06; 2 h 6 min late, due 08:30"},
		"by hand":           {func(h *planned) { h.byHand(10 * time.Hour) }, "2207-A", "put there by hand"},
		"by hand after closing": {func(h *planned) {
			h.open("booth-1", 0, 9*time.Hour)
			h.byHand(10 * time.Hour)
		}, "2207-A", "put there by hand, while booth-1 is closed"},
		"by hand into closing": {func(h *planned) {
			h.open("booth-1", 0, 9*time.Hour)
			h.byHand(8*time.Hour + 30*time.Minute)
		}, "2207-A", "put there by hand, though booth-1 closes at 16:30, before it is out"},
		"by hand before its beads are open": {func(h *planned) {
			h.lay()
			h.byHand(20 * time.Minute)
		}, "2207-A", "put there by hand, before its beads are surely open at 08:"},
		"begun before the opening": {func(h *planned) {
			h.open("booth-1", 2*time.Hour, 9*time.Hour)
			h.Tell(h.t, &boothv1.SprayStarted{BoothId: "booth-1", LoadId: "2207-A"})
		}, "2207-A", "in the booth until about 08:30, while booth-1 is closed"},
		"its car is in another booth": {func(h *planned) {
			h.Tell(h.t, &boothv1.LoadPlanned{LoadId: "2207-B", BoothId: "booth-2", Ro: "2207", Colour: "clear", Coat: floorv1.Coat_COAT_SOLVENTBORNE, SeamIds: []string{seam}})
		}, "2207-B", "waits until 2207-A of the same car is out of booth-1 at "},
		"its car's next coat": {func(h *planned) {
			h.Tell(h.t, &boothv1.LoadPlanned{LoadId: "2207-B", BoothId: "booth-2", Ro: "2207", Colour: "clear", Coat: floorv1.Coat_COAT_SOLVENTBORNE, SeamIds: []string{seam}})
		}, "2207-A", "waits for roof ditch L until 09:06; no slack if 2207-B of the same car keeps its place"},
		"another load of its car": {func(h *planned) {
			h.Tell(h.t, &jobsv1.SeamSurveyed{SeamId: "2207/rd-r", Panel: "roof", Place: "roof ditch", Side: "R", LengthMm: 1200, Finish: floorv1.Finish_FINISH_COATED, Reference: &floorv1.Reference{}})
			h.Tell(h.t, &boothv1.LoadPlanned{LoadId: "2207-B", BoothId: "booth-2", Ro: "2207", Colour: "blue", SeamIds: []string{"2207/rd-r"}, Keep: boothv1.Keep_KEEP_BOOTH})
		}, "2207-B", "waits until 2207-A of the same car is out of booth-1 at "},
		"its booth is made ready": {func(h *planned) {
			h.lay()
			h.Tell(h.t, &boothv1.BoothPhaseChanged{BoothId: "booth-1", Phase: boothv1.Phase_PHASE_PREPARING, Expected: durationpb.New(3 * time.Hour)})
			h.Tell(h.t, &boothv1.LoadPlanned{LoadId: "2207-A", BoothId: "booth-1", Ro: "2207", Colour: "blue", SeamIds: []string{seam}, Keep: boothv1.Keep_KEEP_BOOTH})
		}, "2207-A", "waits until booth-1 has ended what it is doing at 10:"},
		"its beads": {func(h *planned) { h.lay() }, "2207-A", "waits until its beads are surely open at 08:"},
		"no hours left": {func(h *planned) {
			for _, b := range []string{"booth-1", "booth-2"} {
				h.open(b, -72*time.Hour, -63*time.Hour) // Friday
			}
		}, "2207-A", "no place: booth-1 has no opening hours after 27 Feb; enter more hours"},
	} {
		t.Run(name, func(t *testing.T) {
			h := furnished(t)
			c.do(h)
			l := h.of(h.think(), c.load)
			if why := l.GetWhy(); !strings.HasPrefix(why, c.why) || (name == "by hand" || name == "without a promise") && why != c.why {
				t.Errorf("why: %q, want %q", why, c.why)
			}
		})
	}
}

// TestWhatIsNotKnownIsToldOnce: seams whose windows are not known are one line
// with their names.
func TestWhatIsNotKnownIsToldOnce(t *testing.T) {
	h := furnished(t)
	ids := []string{seam}
	for _, side := range []string{"R", "rear"} {
		id := "2207/rd-" + strings.ToLower(side)
		h.Tell(t, &jobsv1.SeamSurveyed{
			SeamId: id, Panel: "roof", Place: "roof ditch", Side: side, LengthMm: 1400, Orientation: floorv1.Orientation_ORIENTATION_LEVEL,
			Finish: floorv1.Finish_FINISH_COATED, Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER,
			Reference: &floorv1.Reference{Source: floorv1.ReferenceSource_REFERENCE_SOURCE_BEFORE_TEAR_DOWN, WidthMm: 12, HeightMm: 4},
		})
		ids = append(ids, id)
	}
	for _, id := range ids {
		h.Tell(t, &jobsv1.SeamPlanned{
			SeamId: id, ProductId: "sl", Profile: floorv1.Profile_PROFILE_LEVELLED, WidthMm: 12, HeightMm: 4,
			Technique: floorv1.Technique_TECHNIQUE_DIRECT_BEAD, VolumeMl: 60,
		})
	}
	// A coat that the sheet says nothing about.
	h.Tell(t, &boothv1.LoadPlanned{LoadId: "2207-A", BoothId: "booth-1", Ro: "2207", Colour: "blue", SeamIds: ids, Coat: floorv1.Coat_COAT_UNDERCOAT})
	h.Tell(t, &jobsv1.JobOpened{Ro: "2207", Vehicle: "blue hatchback", PaintColour: "blue", Coats: []floorv1.Coat{floorv1.Coat_COAT_UNDERCOAT}})
	const want = "roof ditch L, roof ditch R, roof ditch rear: what is planned would not cure there, or its window is not known"
	said := func(want string) {
		var got []string
		for _, w := range h.of(h.think(), "2207-A").GetWaitsFor() {
			if strings.Contains(w, "its window is not known") {
				got = append(got, w)
			}
		}
		if len(got) != 1 || !strings.EqualFold(got[0], want) {
			t.Errorf("said %q, want %q", got, want)
		}
	}
	said(want + "; in which bay its car stands was not told")
	h.Tell(t, &jobsv1.CarMoved{Ro: "2207", ZoneId: "bay-1"})
	said(want)
}

// TestThePlanSpeaksInTheShopsTime: sentences are in the shop's zone, the
// journal's in UTC.
func TestThePlanSpeaksInTheShopsTime(t *testing.T) {
	zone, err := time.LoadLocation("Etc/GMT-3") // three hours before UTC
	if err != nil {
		t.Skip("no time zone database here")
	}
	h := furnished(t)
	h = h.keeper(booth.PlanOptions{Zone: zone})
	h.open("booth-1", 0, 9*time.Hour)
	h.lay()
	p := h.think()
	l := h.of(p, "2207-A")
	at := l.GetStart().AsTime()
	const words = "waits until its beads are surely open at "
	if p.GetTimeZone() != "Etc/GMT-3" || !strings.HasPrefix(l.GetWhy(), words+at.Add(3*time.Hour).Format("15:04")) {
		t.Errorf("in %q: %q, it starts at %s", p.GetTimeZone(), l.GetWhy(), at)
	}
	var told string
	h.Writer.View(func(seq uint64) {
		ev, _, _ := h.Floor.Event(seq)
		told = ev.Body.(*boothv1.LoadPlanned).GetReason()
	})
	if !strings.HasPrefix(told, words+at.Format("15:04")) {
		t.Errorf("the journal was told %q, it starts at %s", told, at)
	}
	_, err = h.WhatIf(t.Context(), &boothv1.WhatIfRequest{Suppose: []*boothv1.Supposition{{What: &boothv1.Supposition_BoothClosed_{
		BoothClosed: &boothv1.Supposition_BoothClosed{BoothId: "booth-1", From: in(h, 2*time.Hour), To: in(h, time.Hour)},
	}}}})
	if want := "until " + h.Time.Now().Add(4*time.Hour).UTC().Format("15:04"); err == nil || !strings.Contains(err.Error(), want) {
		t.Errorf("%v, want %q", err, want)
	}
}

// TestRefusalsNameWhatThereIs: what is not known is told with what is, and no
// field of the wire.
func TestRefusalsNameWhatThereIs(t *testing.T) {
	h := furnished(t)
	h.job("2209")
	h.job("2210")
	h.lay()
	laid := h.Time.Now().UTC().Format("15:04")
	h.Tell(t, &boothv1.SprayStarted{BoothId: "booth-2", LoadId: "2210-A"})
	h.think()
	waits := func(id string) *boothv1.Supposition {
		return &boothv1.Supposition{What: &boothv1.Supposition_SeamWaits_{SeamWaits: &boothv1.Supposition_SeamWaits{SeamId: id, Until: in(h, time.Hour)}}}
	}
	put := func(load, booth string, d time.Duration) *boothv1.Supposition {
		return &boothv1.Supposition{What: &boothv1.Supposition_LoadPlaced_{LoadPlaced: &boothv1.Supposition_LoadPlaced{LoadId: load, BoothId: booth, Start: in(h, d)}}}
	}
	for name, c := range map[string]struct {
		suppose *boothv1.Supposition
		says    []string
	}{
		"a booth":       {closed("booth-9"), []string{`booth "booth-9" is not known; the shop has booth-1, booth-2`}},
		"a laid seam":   {waits(seam), []string{"roof ditch L on 2207 was laid at " + laid + " by "}},
		"a seam":        {waits("2207/none"), []string{`seam "2207/none" is not known; to be laid or scuffed for a load are 2209/rd-l`}},
		"a load":        {put("9-A", "", time.Hour), []string{`load "9-A" is not known; not sprayed yet are 2207-A, 2209-A`}},
		"the past":      {put("2207-A", "", -time.Hour), []string{"start of 2207-A: ", "not before ", "the shop's time"}},
		"the end first": {&boothv1.Supposition{What: &boothv1.Supposition_BoothOpen_{BoothOpen: &boothv1.Supposition_BoothOpen{BoothId: "booth-1", From: in(h, 2*time.Hour), To: in(h, time.Hour)}}}, []string{"booth-1 open: until "}},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := h.WhatIf(t.Context(), &boothv1.WhatIfRequest{Suppose: []*boothv1.Supposition{c.suppose}})
			if err == nil || strings.Contains(err.Error(), "suppose[") || slices.ContainsFunc(c.says, func(s string) bool { return !strings.Contains(err.Error(), s) }) {
				t.Errorf("%v, want %q", err, c.says)
			}
			if k := fault.KindOf(err); k == fault.Internal {
				t.Errorf("kind %s", k)
			}
		})
	}
}
