package console

import (
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
)

var eight = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

// planned is a load in booth-1, so many minutes after eight.
func plannedLoad(id string, min int, order uint32) *boothv1.PlannedLoad {
	return &boothv1.PlannedLoad{
		LoadId: id, BoothId: "booth-1", Order: order, Start: timestamppb.New(eight.Add(time.Duration(min) * time.Minute)),
		End: timestamppb.New(eight.Add(time.Duration(min+60) * time.Minute)),
	}
}

func planOf(ls ...*boothv1.PlannedLoad) *boothv1.Plan {
	return &boothv1.Plan{Planning: true, Now: timestamppb.New(eight), Loads: ls}
}

// TestFollowersHearNoJitter: a start that creeps is told when it is five
// minutes off what was told last; another order or state is told at once.
func TestFollowersHearNoJitter(t *testing.T) {
	h := hear(planOf(plannedLoad("A", 60, 1), plannedLoad("B", 120, 2), plannedLoad("C", 124, 3)))
	news := func(p *boothv1.Plan) string {
		return strings.Join(h.news(p).lines(p), "\n")
	}
	begun := plannedLoad("A", 66, 0)
	begun.Begun = true
	missed := plannedLoad("C", 121, 1)
	missed.Missed = true
	permitted := plannedLoad("C", 112, 2)
	permitted.Permitted = true
	faulty := planOf(begun, missed, plannedLoad("B", 190, 2))
	faulty.Trouble = "the fan"
	for i, c := range []struct {
		plan *boothv1.Plan
		want string
	}{
		{planOf(plannedLoad("A", 62, 1), plannedLoad("B", 122, 2), plannedLoad("C", 126, 3)), ""},
		{planOf(plannedLoad("A", 64, 1), plannedLoad("B", 124, 2), plannedLoad("C", 128, 3)), ""},
		{planOf(plannedLoad("A", 65, 1), plannedLoad("B", 124, 2), plannedLoad("C", 128, 3)), "08:00  A starts 5 min later, at 09:05 instead of 09:00"},
		{planOf(plannedLoad("A", 66, 1), plannedLoad("C", 121, 2), plannedLoad("B", 122, 3)), "08:00  C starts 3 min earlier, at 10:01 instead of 10:04\n08:00  B starts 2 min later, at 10:02 instead of 10:00"},
		{planOf(begun, plannedLoad("C", 121, 1), plannedLoad("B", 122, 2)), "08:00  A is in booth-1"},
		{planOf(begun, missed, plannedLoad("B", 122, 2)), "08:00  C misses its window: scuff first"},
		{planOf(begun, missed, plannedLoad("B", 190, 2)), "08:00  B starts 68 min later, at 11:10 instead of 10:02"},
		{faulty, "08:00  TROUBLE: the fan"},
		{planOf(missed, plannedLoad("B", 190, 2)), "08:00  A is out of booth-1\n08:00  the trouble is over"},
		{planOf(missed, plannedLoad("B", 190, 2), plannedLoad("D", 300, 3)), "08:00  D is new: booth-1 at 13:00"},
		{planOf(plannedLoad("C", 121, 1), plannedLoad("B", 190, 2), plannedLoad("D", 300, 3)), "08:00  C keeps its window"},
		{planOf(plannedLoad("B", 100, 1), plannedLoad("C", 121, 2), plannedLoad("D", 300, 3)), "08:00  B starts 90 min earlier, at 09:40 instead of 11:10"}, // C was overtaken, and stands where it stood
		{planOf(plannedLoad("B", 100, 1), permitted, plannedLoad("D", 300, 3)), "08:00  C starts 9 min earlier, at 09:52 instead of 10:01, and has a permit"},
	} {
		if got := news(c.plan); got != c.want {
			t.Errorf("%d: told %q, want %q", i, got, c.want)
		}
	}
}

// TestFollowersHearWhy: behind a move stands its cause, and what becomes of a
// booth is told once.
func TestFollowersHearWhy(t *testing.T) {
	booths := func(p *boothv1.Plan, fault, gun string) *boothv1.Plan {
		p.Booths = []*boothv1.PlannedBooth{{BoothId: "booth-1", Fault: fault, SetUpTo: gun}, {BoothId: "booth-2"}}
		return p
	}
	waits := plannedLoad("A", 90, 1)
	waits.Why = "waits for hem until 09:30; 5 min of slack before it is late"
	other := plannedLoad("A", 100, 1)
	other.BoothId, other.Why = "booth-2", "is taken by booth-2"
	begun := plannedLoad("A", 90, 0)
	begun.Begun, begun.Why = true, "in the booth until about 10:30"
	gone := &boothv1.PlannedLoad{LoadId: "A", Why: "no place: booth-1 is out of use (fan)"}
	leave := plannedLoad("A", 90, 1)
	leave.Permitted = true
	lost := plannedLoad("A", 90, 1)
	lost.Why, lost.PermitLost = "booth-1 is free", "taken back at 08:00: door hem: a sleeve brushed it."
	lostAndMoved := plannedLoad("A", 120, 1)
	lostAndMoved.Why, lostAndMoved.PermitLost = "waits for hem until 10:00", lost.PermitLost
	byHand := plannedLoad("A", 90, 1)
	byHand.Keep, byHand.Why, byHand.PermitLost = boothv1.Keep_KEEP_START, "put there by hand", lost.PermitLost
	h := hear(booths(planOf(plannedLoad("A", 60, 1)), "", ""))
	for i, c := range []struct {
		plan *boothv1.Plan
		want string
	}{
		{booths(planOf(waits), "", ""), "08:00  A starts 30 min later, at 09:30 instead of 09:00: waits for hem until 09:30"},
		{booths(planOf(other), "fan", ""), "08:00  booth-1 is out of use (fan)\n08:00  A goes into booth-2 at 09:40, was booth-1 at 09:30"},
		{booths(planOf(waits), "", ""), "08:00  booth-1 is in use again\n08:00  A goes into booth-1 at 09:30, was booth-2 at 09:40"},
		{booths(planOf(waits), "", "grey"), "08:00  the gun of booth-1 is set up to grey"},
		{booths(planOf(waits), "", "grey"), ""},
		{booths(planOf(gone), "fan", ""), "08:00  booth-1 is out of use (fan)\n08:00  A has no place any more, it stood in booth-1 at 09:30"},
		{booths(planOf(leave), "", ""), "08:00  booth-1 is in use again\n08:00  A has a place now: booth-1 at 09:30, and has a permit"},
		{booths(planOf(waits), "", ""), "08:00  A has no permit any more: waits for hem until 09:30; 5 min of slack before it is late"},
		{booths(planOf(leave), "", ""), "08:00  A has a permit"},
		{booths(planOf(lost), "", ""), "08:00  A has no permit any more: taken back at 08:00: door hem: a sleeve brushed it"},
		{booths(planOf(leave), "", ""), "08:00  A has a permit"},
		{booths(planOf(lostAndMoved), "", ""), "08:00  A starts 30 min later, at 10:00 instead of 09:30, and has no permit any more: taken back at 08:00: door hem: a sleeve brushed it"},
		{booths(planOf(leave), "", ""), "08:00  A starts 30 min earlier, at 09:30 instead of 10:00, and has a permit"},
		{booths(planOf(byHand), "", ""), "08:00  A has no permit any more: taken back at 08:00: door hem: a sleeve brushed it"},
		{booths(planOf(waits), "", ""), "08:00  A waits for its turn: waits for hem until 09:30; 5 min of slack before it is late"},
		{booths(planOf(begun), "", ""), "08:00  A is in booth-1"},
	} {
		if got := strings.Join(h.news(c.plan).lines(c.plan), "\n"); got != c.want {
			t.Errorf("%d: told %q, want %q", i, got, c.want)
		}
	}
}

// TestHoursOfTheShop: what is typed and what is told are in the shop's zone.
func TestHoursOfTheShop(t *testing.T) {
	for zone, want := range map[string]string{"": "14:10 UTC", "Etc/GMT-3": "17:10 Etc/GMT-3", "+01:30": "15:40 UTC+01:30"} {
		s := timeOf(&boothv1.Plan{Now: timestamppb.New(eight), TimeZone: zone})
		at := timestamppb.New(eight.Add(6*time.Hour + 10*time.Minute))
		if got := s.hour(at) + " " + s.name; got != want {
			t.Errorf("%q: %s, want %s", zone, got, want)
		}
		r := reader{shopTime: s}
		if got := r.need("--at", s.hour(at)); r.err != nil || !got.AsTime().Equal(at.AsTime()) {
			t.Errorf("%q: read as %v, %v", zone, got.AsTime(), r.err)
		}
		if got := s.short(eight.AddDate(2, 0, 0)); !strings.Contains(got, "2 Mar 2028") {
			t.Errorf("two years on: %s", got)
		}
	}
}

// TestQuestionsThatSayTooLittle: what is asked with half of it is told what
// else is wanted.
func TestQuestionsThatSayTooLittle(t *testing.T) {
	now := timeOf(planOf())
	for _, c := range []struct {
		ask  WhatIf
		want string
	}{
		{WhatIf{Load: "2207-A"}, "--load: 2207-A alone: with --due TIME, "},
		{WhatIf{Booth: "booth-1"}, "--booth: booth-1 alone: with --load LOAD and --start TIME"},
		{WhatIf{To: "14:00"}, "--to: 14:00 alone: with --closed BOOTH or --open BOOTH"},
		{WhatIf{From: "14:00", Seam: "s", Until: "15:00"}, "--from: 14:00 alone: with --closed BOOTH or --open BOOTH"},
	} {
		if _, err := c.ask.suppose(now); err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%+v: %v, want %q", c.ask, err, c.want)
		}
	}
}

// TestWhatManyWaitForIsSaidOnce: one line for what several loads wait for, and
// one for the work of a load that has no place.
func TestWhatManyWaitForIsSaidOnce(t *testing.T) {
	a, b := plannedLoad("A", 60, 1), &boothv1.PlannedLoad{LoadId: "B"}
	a.WaitsFor = []string{"lay hem", "no reading of booth-1 yet"}
	b.WaitsFor = []string{"no reading of booth-1 yet", "1 seam is not planned yet"}
	p := planOf(a, b)
	p.LayBy = []*boothv1.LayBy{
		{Name: "roof ditch L", LoadId: "B", What: "lay", Text: "lay roof ditch L on 1; its load has no place"},
		{Name: "roof ditch R", LoadId: "B", What: "lay", Text: "lay roof ditch R on 1; its load has no place"},
		{Name: "hem", LoadId: "A", What: "lay", Minutes: 15, BeginBy: timestamppb.New(eight), Text: "lay hem on 1 by 08:15 or it misses the 09:00 load"},
	}
	p.Bays = []*boothv1.BayList{{ZoneId: "bay-1", LayBy: []uint32{0, 1, 2}}}
	got := strings.Join(boothPlanTold(p).work(timeOf(p)), "\n")
	const want = "bay-1\n  lay hem on 1 by 08:15 or it misses the 09:00 load (15 min, begin by 08:00)\n" +
		"  lay for B, which has no place: roof ditch L, roof ditch R\nA, B wait: no reading of booth-1 yet\nB waits: 1 seam is not planned yet"
	if got != want {
		t.Errorf("said\n%s\nwant\n%s", got, want)
	}
}
