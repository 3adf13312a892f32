package screens

import (
	"fmt"
	"time"
)

// strip builds a strip from its four soft edges.
func strip(laid, mayOpen, opens, mayClose, closes time.Time) []Segment {
	return []Segment{
		{SegNotReady, laid, mayOpen},
		{SegOpening, mayOpen, opens},
		{SegOpen, opens, mayClose},
		{SegClosing, mayClose, closes},
		{SegClosed, closes, time.Time{}},
	}
}

func galleryBoard() Board {
	return Board{
		Picture: galleryPicture(),
		Climate: []Climate{{Zone: "bays", TempC: known(17.9), RHPercent: known(54), ReadAt: clockAt(10, 42)}},
		Gates: []Gate{{
			Booth: "b1", BoothName: "Booth 1", State: GateHold, Load: "2207-A",
			Headline: "Do not spray 2207-A", Sentence: "Waits for roof ditch L, R and rear panel to floor.",
			ClearAt: clockAt(12, 31), MaybeFrom: clockAt(12, 20),
		}},
		From: clockAt(10, 0), To: clockAt(15, 0),
		Lanes: []Lane{{Booth: "b1", Name: "Booth 1", Order: "2207-A 12:40, 2214-A 14:20", Blocks: []Block{
			{Kind: BlockBake, From: clockAt(9, 40), To: clockAt(11, 25), Label: "2198 bake"},
			{Kind: BlockColourChange, From: clockAt(12, 15), To: clockAt(12, 40), Label: "to blue"},
			{Kind: BlockLoad, From: clockAt(12, 40), To: clockAt(14, 0), Label: "2207-A", Next: true},
			{Kind: BlockLoad, From: clockAt(14, 20), To: clockAt(15, 40), Label: "2214-A"},
		}}},
		Jobs: []Job{
			{RO: "2207", Vehicle: "Blue hatchback", Promised: clockAt(16, 30), Seams: []SeamRow{
				{
					ID: "2207.roof-ditch-l", Place: "Roof ditch L", Mark: MarkFlowing, Stage: "flowing", Text: "flow-out 71 % · opens 11:07",
					Strip: strip(clockAt(10, 31), clockAt(10, 57), clockAt(11, 7), clockAt(13, 36), clockAt(14, 12)),
				},
				{
					ID: "2207.roof-ditch-r", Place: "Roof ditch R", Mark: MarkFlowing, Stage: "flowing", Text: "flow-out 52 % · opens 11:15",
					Strip: strip(clockAt(10, 38), clockAt(11, 4), clockAt(11, 15), clockAt(13, 42), clockAt(14, 18)),
				},
				{
					ID: "2207.door-hem-lf", Place: "Door hem LF", Mark: MarkOpen, Stage: "open", Text: "window open",
					Strip: []Segment{
						{SegOpen, clockAt(10, 2), clockAt(14, 6)},
						{SegClosing, clockAt(14, 6), clockAt(14, 36)},
						{SegClosed, clockAt(14, 36), time.Time{}},
					},
				},
				{
					ID: "2207.rear-panel-floor", Place: "Rear panel to floor", Mark: MarkLay, Stage: "prepped",
					LayBy: &LayBy{At: clockAt(12, 5), Text: "or it misses 12:40"},
				},
			}},
			{RO: "2214", Vehicle: "Silver estate", Promised: clockAt(34, 0), Seams: []SeamRow{
				{
					ID: "2214.boot-floor", Place: "Boot floor joint", Mark: MarkOpen, Stage: "open", Text: "window open",
					Strip: []Segment{{SegOpen, clockAt(8, 15), clockAt(23, 0)}},
				},
				{
					ID: "2214.strut-tower-r", Place: "Strut tower R", Mark: MarkHold, Stage: "laid",
					Hold: "nozzle past gel time when laid: foreman to decide",
				},
				{
					ID: "2214.quarter-wheelhouse-r", Place: "Quarter to wheelhouse R", Mark: MarkLay, Stage: "prepped",
					LayBy: &LayBy{At: clockAt(13, 20), Text: "· prepped, epoxy primer"},
				},
			}},
			{RO: "2198", Vehicle: "White van", Promised: clockAt(13, 0), Seams: []SeamRow{
				{ID: "2198.sliding-door-hem", Place: "Sliding door hem", Mark: MarkCoated, Stage: "coated", Note: "topcoated 10:20"},
				{ID: "2198.rear-pillar-l", Place: "Rear pillar L", Mark: MarkCoated, Stage: "coated", Note: "topcoated 10:20"},
			}},
			{RO: "2219", Vehicle: "Red saloon", Promised: clockAt(4*24+12, 0), Seams: []SeamRow{
				{ID: "2219.apron-l-upper", Place: "Apron L upper", Mark: MarkTodo, Stage: "planned", Note: "prep next · ripple bead on wet bed"},
				{ID: "2219.apron-l-lower", Place: "Apron L lower", Mark: MarkTodo, Stage: "planned", Note: "prep next · ripple bead on wet bed"},
			}},
		},
	}
}

// galleryBoardFull has two booths, names too long for their place and more
// seams than the wall holds in its large type.
func galleryBoardFull() Board {
	b := galleryBoard()
	b.Climate = append(b.Climate, Climate{Zone: "booth 2", ReadAt: clockAt(10, 20), Stale: true})
	b.Gates[0].Sentence = "Waits for roof ditch L, R, rear panel to floor, and for the probe of bay 2, last read 17 min ago."
	b.Gates = append(b.Gates, Gate{Booth: "b2", BoothName: "Booth 2", State: GateClear, Load: "2223-A", Sentence: "Permit for S. Thrushgate.", Until: clockAt(10, 51)})
	b.Plan = []PlanWord{{Text: "Spray 2223-A by 16:10 today or scuff Monday"}, {Text: "Spray 2214-A by 15:20 today or scuff Monday (the plan has it later)", Trouble: true}}
	b.Lanes = append(b.Lanes, Lane{Booth: "b2", Name: "Booth 2", Order: "2219-A 12:10", Blocks: []Block{
		{Kind: BlockLoad, From: clockAt(10, 45), To: clockAt(11, 50), Label: "2223-A", Next: true},
		{Kind: BlockLoad, From: clockAt(12, 10), To: clockAt(13, 35), Label: "2219-A", Late: true},
		{Kind: BlockClosed, From: clockAt(13, 45), To: clockAt(15, 0), Label: "filters changed"},
	}})
	b.Jobs[0].Seams[3].Place = "Rear panel to floor extension behind the spare wheel well"
	b.Jobs[1].Vehicle = "Silver estate with the long roof rails and tow bar"
	b.Jobs[1].Seams[1].Hold = "nozzle past gel time when laid, and the product's lot was recalled at 09:40: a foreman decides whether it is accepted, scuffed or redone"
	b.Jobs[1].Seams[2].LayBy = &LayBy{At: clockAt(10, 15), Text: "or it misses 14:20"}
	more := Job{RO: "2223", Vehicle: "Green pick-up", Promised: clockAt(17, 0), Late: true, Seams: []SeamRow{
		{
			ID: "2223.cab-corner-l", Place: "Cab corner L", Mark: MarkClosed, Stage: "closed", Text: "closed 10:12 · scuff first",
			Strip: []Segment{{SegOpen, clockAt(9, 0), clockAt(10, 4)}, {SegClosing, clockAt(10, 4), clockAt(10, 12)}, {SegClosed, clockAt(10, 12), time.Time{}}},
		},
		{ID: "2223.sill-r", Place: "Sill R", Mark: MarkLay, Stage: "prepped", LayBy: &LayBy{At: clockAt(17, 45), Text: "for tomorrow's first load"}},
		{
			ID: "2223.drip-rail-r", Place: "Drip rail R", Mark: MarkFlowing, Stage: "flowing", Text: "flow-out 4 % · opens 14:45",
			Strip: strip(clockAt(10, 41), clockAt(14, 25), clockAt(14, 45), clockAt(18, 0), clockAt(19, 0)),
		},
		{ID: "2223.bed-front", Place: "Bed front", Mark: MarkUnknown, Stage: "unknown", Note: "taken in half-done: no paper"},
	}}
	for i := range 5 {
		more.Seams = append(more.Seams, SeamRow{
			ID: fmt.Sprintf("2223.rail-%d", i), Place: fmt.Sprintf("Bed rail joint %d", i+1), Mark: MarkFinished, Stage: "accepted", Note: "accepted yesterday",
		})
	}
	b.Jobs = append([]Job{more}, b.Jobs...)
	return b
}

func galleryBoardEmpty() Board {
	b := galleryBoard()
	b.Jobs = nil
	b.Lanes = []Lane{{Booth: "b1", Name: "Booth 1"}}
	b.Gates = []Gate{{Booth: "b1", BoothName: "Booth 1", State: GateHold, Headline: "No load waits", Sentence: "Nothing is planned: open a job and survey its seams."}}
	return b
}

func galleryBoardStale() Board {
	b := galleryBoard()
	b.Live, b.Age, b.Trouble = false, 42*time.Second, "The journal does not answer."
	return b
}

// galleryBoardCrowded has five cars with 53 seams in work, two booths and as
// many holds as a bad morning brings.
func galleryBoardCrowded() Board {
	b := galleryBoardFull()
	b.Climate = []Climate{
		{Zone: "bay 1", TempC: known(15.7), RHPercent: known(50)},
		{Zone: "bay 2", TempC: known(18.4), RHPercent: known(50)},
		{Zone: "bay 3", TempC: known(20.5), RHPercent: known(50)},
	}
	b.Jobs = nil
	for i, n := range []int{9, 12, 12, 10, 10} {
		j := Job{
			RO: []string{"2198", "2207", "2214", "2226", "2219"}[i], Promised: clockAt(13+i*3, 0), Late: i == 0, Next: i == 1,
			Vehicle: []string{"White van", "Blue hatchback", "Silver estate", "Grey pick-up", "Red saloon"}[i],
		}
		for k := range n {
			j.Seams = append(j.Seams, gallerySeam(j.RO, k, i*20+k*7))
		}
		b.Jobs = append(b.Jobs, j)
	}
	return b
}

// galleryBoardOverfull has three cars more, each with a hold: some have no
// room on any wall.
func galleryBoardOverfull() Board {
	b := galleryBoardCrowded()
	for i, ro := range []string{"2201", "2204", "2211"} {
		j := Job{RO: ro, Vehicle: []string{"Yellow minibus", "Black coupé", "Brown estate"}[i], Promised: clockAt(58+i, 0)}
		for k := range 11 {
			j.Seams = append(j.Seams, gallerySeam(ro, k, i*20+k*7))
		}
		b.Jobs = append(b.Jobs, j)
	}
	return b
}

// gallerySeam is one of many seams of a crowded wall, begun so many minutes
// after eight.
func gallerySeam(ro string, k, begun int) SeamRow {
	places := []string{"Roof ditch L", "Roof ditch R", "Quarter to wheelhouse L", "Strut tower R", "Rear panel to floor", "Door hem LF", "Boot floor joint", "Sill joint L", "Spare-wheel well", "Pillar inner joint L", "Tail lamp pocket L", "Drip rail R"}
	at := clockAt(8, begun)
	s := SeamRow{ID: fmt.Sprintf("%s.seam-%d", ro, k), Place: places[k], Mark: MarkFlowing, Stage: "flowing"}
	switch opens := at.Add(200 * time.Minute); {
	case k == 3 && ro < "2215" && ro != "2198":
		s.Mark, s.Stage, s.Hold = MarkHold, "laid", "bead disturbed: foreman to decide"
	case k%5 == 1:
		s.Exposed, s.Text = true, "exposed · cure 5 % · cured tomorrow 15:16"
		s.Strip = []Segment{{SegNotReady, at, clockAt(36, begun)}, {SegOpening, clockAt(36, begun), clockAt(39, begun)}}
	case k%5 == 2:
		s.Mark, s.Stage, s.Text = MarkOpen, "open", "window open until 19:00"
		s.Strip = []Segment{{SegOpen, at, clockAt(19, k)}, {SegClosing, clockAt(19, k), clockAt(21, k)}}
	case k == 8 && ro == "2226":
		s.Mark, s.Stage, s.LayBy = MarkLay, "prepped", &LayBy{At: clockAt(12, begun%60), Text: "or it misses 14:20"}
	default:
		s.Text = "coat time 49 % · opens " + opens.Format("15:04")
		s.Strip = strip(at, opens.Add(-25*time.Minute), opens, clockAt(20, 0), clockAt(22, 0))
	}
	return s
}
