package screens

import "time"

func galleryFaults() []Reason {
	return []Reason{
		{Text: "The shop's disk is full.", Do: "Make room, then start the shop's program again.", Lost: true, Own: "The journal's disk is full."},
		{Text: "Nobody works out how far the beads have cured.", Do: "If this stays, have the shop's program started again.", Own: "The cure clocks are not kept."},
	}
}

// galleryBoardFault is a full wall in a shop whose disk is full.
func galleryBoardFault() Board {
	b := galleryBoardFull()
	b.Faults = galleryFaults()
	b.Gates[0].Sentence = "The shop's disk is full. Nobody works out how far the beads have cured. Waits for roof ditch L, R and rear panel to floor."
	b.Gates[0].ClearAt, b.Gates[0].MaybeFrom = time.Time{}, time.Time{}
	for i := range b.Gates[1:] {
		g := &b.Gates[1+i]
		*g = Gate{Booth: g.Booth, BoothName: g.BoothName, State: GateHold, Load: g.Load, Headline: "Do not spray " + g.Load, Sentence: "The shop's disk is full. Nobody works out how far the beads have cured."}
	}
	return b
}

// galleryBoardGone is a wall whose services do not answer, with bays that
// nobody reads.
func galleryBoardGone() Board {
	b := galleryBoard()
	b.Live, b.Age, b.Trouble = false, 95*time.Second, "No answer: see whether the shop's program runs."
	b.Gates = []Gate{{
		Booth: "b1", BoothName: "Booth 1", Load: "2207-A", Headline: "Do not spray 2207-A",
		Sentence: "The gate does not answer: see whether the shop's program runs.",
	}}
	b.Climate = []Climate{
		{Zone: "bay 1", Stale: true}, {Zone: "bay 2", Stale: true}, {Zone: "bay 3", TempC: known(17.2), Stale: true, ReadAt: clockAt(10, 9)}, {Zone: "wash bay", Stale: true},
	}
	return b
}

// galleryBoothFault is a load that waits for much, in a shop whose disk is
// full.
func galleryBoothFault() Booth {
	b := galleryBoothHold()
	b.Faults = galleryFaults()
	b.Gate.Sentence = "The shop's disk is full. Make room, then start the shop's program again. 1 more fault below. 3 seams not ready. 1 more reason below."
	b.Gate.ClearAt, b.Gate.MaybeFrom, b.Gate.If = time.Time{}, time.Time{}, ""
	b.Reasons = append(galleryFaults(), Reason{Text: "Booth 1 is outside its hours, or they end before the first coat does.", Do: "It opens tomorrow 07:00."})
	b.Climate = Climate{Zone: "Booth", Stale: true}
	return b
}

func galleryBayFault() Bay {
	b := galleryBayLay()
	b.Faults = galleryFaults()[:1]
	return b
}
