package screens

import (
	"strconv"
	"time"
)

func galleryPeople() []Person {
	return []Person{{"T. Orrable", "technician"}, {"J. Quillbeck", "technician"}, {"S. Thrushgate", "painter"}, {"A. Vellacorn", "foreman"}}
}

func galleryOverride() *Button {
	return &Button{
		Kind: DoOverride, Label: "Foreman override", Ready: true, Grave: true,
		Hint:  "Shown as OVERRIDE, never as CLEAR, and stands in the report.",
		Given: []Given{{"load", "2207-A"}},
		Asks: []Ask{
			{Name: "person", Label: "Foreman", Type: AskPick, Value: "A. Vellacorn", Options: []Option{{"A. Vellacorn", "A. Vellacorn"}}, Need: true},
			{Name: "pin", Label: "PIN", Type: AskPIN, Need: true},
			{Name: "reason", Label: "Reason", Type: AskText, Need: true},
			{Name: "minutes", Label: "For how long", Type: AskNumber, Unit: "min", Min: "1", Max: "15", Value: "15", Need: true, Hint: "at most 15 minutes"},
		},
	}
}

func galleryBoothHold() Booth {
	return Booth{
		Picture: galleryPicture(), ID: "b1", Name: "Booth 1", Phase: "idle",
		Gate: Gate{
			Booth: "b1", BoothName: "Booth 1", State: GateHold, Load: "2207-A", Headline: "Do not spray 2207-A",
			Sentence: "3 seams not ready.", ClearAt: clockAt(12, 31), MaybeFrom: clockAt(12, 20), If: "if rear panel is laid by 12:05",
		},
		Load: &BoothLoad{ID: "2207-A", RO: "2207", Vehicle: "Blue hatchback", Colour: "blue", Coat: "solventborne", Start: clockAt(12, 40), End: clockAt(14, 0)},
		Reasons: []Reason{
			{Text: "Bay 2 was last heard 9 min ago, limit 5 min.", Do: "Wake its tablet, or confirm by name that nothing was touched."},
		},
		Seams: []BoothSeam{
			{ID: "2207.roof-ditch-l", Place: "Roof ditch L", State: SeamWaiting, Doing: "flow-out", DoneSure: 0.71, DoneMaybe: 0.78, ReadyAt: clockAt(11, 7), MaybeFrom: clockAt(10, 57), TempC: known(17.9)},
			{ID: "2207.roof-ditch-r", Place: "Roof ditch R", State: SeamWaiting, Doing: "flow-out", DoneSure: 0.52, DoneMaybe: 0.58, ReadyAt: clockAt(11, 15), MaybeFrom: clockAt(11, 4), TempC: known(17.9)},
			{ID: "2207.rear-panel-floor", Place: "Rear panel to floor", State: SeamNotLaid, Text: "not laid · bay 2 · heavy-bodied white, ribbon 25 mm", LayBy: clockAt(12, 5), Else: "or the load moves to 14:20"},
			{ID: "2207.door-hem-lf", Place: "Door hem LF", State: SeamReady, ClosesAt: clockAt(14, 6), LaidAt: clockAt(10, 2), LaidBy: "bay 1"},
		},
		Climate: Climate{Zone: "Booth", TempC: known(21.4), RHPercent: known(48), ReadAt: clockAt(10, 42)},
		Gun:     "white", Change: "blue", Setup: 25 * time.Minute,
		Loads: []BoothLoad{
			{ID: "2207-A", Vehicle: "Blue hatchback", Colour: "blue", Start: clockAt(12, 40), Note: "waits for 3 seams", Why: "waits for rear panel to floor until 12:40"},
			{ID: "2214-A", Vehicle: "Silver estate", Colour: "silver", Start: clockAt(14, 20), Why: "behind 2207-A, after 20 min of setup to silver"},
			{ID: "2219-A", Vehicle: "Red saloon", Colour: "red", Start: clockAt(16, 5)},
		},
		People:   galleryPeople(),
		Start:    &Button{Kind: DoStartSpray, Label: "Start spray", Why: "on hold"},
		Override: galleryOverride(),
		Else: []Button{
			{Kind: DoRequestPermit, Label: "Nothing was touched in bay 2", Ready: true, Given: []Given{{"load", "2207-A"}, {"confirmed", "yes"}}},
			{Kind: DoBoothFault, Label: "Booth fault", Ready: true, Grave: true, Asks: []Ask{{Name: "reason", Label: "What is wrong", Type: AskText, Need: true}}},
		},
	}
}

func galleryBoothClear() Booth {
	b := galleryBoothHold()
	b.Now = clockAt(12, 38)
	b.Climate.ReadAt = clockAt(12, 38)
	b.Gate = Gate{
		Booth: "b1", BoothName: "Booth 1", State: GateClear, Load: "2207-A", Headline: "You may spray 2207-A",
		Sentence: "Solventborne blue, first coat. Permit for S. Thrushgate.", Until: clockAt(12, 48),
	}
	b.Reasons = nil
	for i := range b.Seams {
		b.Seams[i] = BoothSeam{ID: b.Seams[i].ID, Place: b.Seams[i].Place, State: SeamReady, ClosesAt: clockAt(13, 36+i*10), LaidAt: clockAt(10, 31+i*7), LaidBy: "bay 1"}
	}
	b.Gun, b.Change, b.Setup = "blue", "", 0
	b.Loads[0].Note = ""
	b.Start = &Button{Kind: DoStartSpray, Label: "Start spray", Ready: true, Given: []Given{{"load", "2207-A"}, {"permit", "p-88"}}}
	b.Override = nil
	b.Else = []Button{
		{Kind: DoReturnPermit, Label: "Give the permit back", Ready: true, Given: []Given{{"load", "2207-A"}}},
		b.Else[1],
	}
	return b
}

func galleryBoothOverride() Booth {
	b := galleryBoothClear()
	b.Gate = Gate{
		Booth: "b1", BoothName: "Booth 1", State: GateOverride, Load: "2207-A", Headline: "Override: 2207-A",
		Sentence: "A. Vellacorn answers for it: \"test panel, roof ditch R looked at and dry\". Roof ditch R is not surely ready.", Until: clockAt(12, 53),
	}
	b.Seams[1] = BoothSeam{ID: "2207.roof-ditch-r", Place: "Roof ditch R", State: SeamWaiting, Doing: "flow-out", DoneSure: 0.94, DoneMaybe: 1, ReadyAt: clockAt(12, 44), MaybeFrom: clockAt(12, 35), TempC: known(17.1)}
	b.Seams[2] = BoothSeam{ID: "2207.rear-panel-floor", Place: "Rear panel to floor", State: SeamHeld, Text: "bead disturbed at 12:20", Else: "A. Vellacorn to decide"}
	b.Seams[3] = BoothSeam{ID: "2207.door-hem-lf", Place: "Door hem LF", State: SeamClosing, Text: "48 h window over a warm night", ClosesAt: clockAt(12, 10)}
	return b
}

func galleryBoothUnknown() Booth {
	b := galleryBoothHold()
	b.Live, b.Age, b.Trouble = false, 95*time.Second, "No answer: see whether the shop's program runs."
	b.Gate = Gate{Booth: "b1", BoothName: "Booth 1", Load: "2207-A", Headline: "Do not spray 2207-A", Sentence: "The gate's state is not known."}
	b.Seams[0].State, b.Seams[1].State = SeamUnknown, SeamUnknown
	b.Climate = Climate{Zone: "Booth", Stale: true, ReadAt: clockAt(10, 21)}
	b.Start.Why = "the gate is not heard"
	return b
}

// galleryBoothCrowded is a load of nine seams of which six are ready.
func galleryBoothCrowded() Booth {
	b := galleryBoothHold()
	for i, place := range []string{"Rear pillar L", "Sliding door hem L", "Sill joint L", "Tail lamp pocket L", "Wheelhouse inner joint L"} {
		b.Seams = append(b.Seams, BoothSeam{
			ID: "2207.more-" + strconv.Itoa(i), Place: place, State: SeamReady, ClosesAt: clockAt(24+i, 13), LaidAt: clockAt(8, 50+i), LaidBy: "Bex Marrowdale",
		})
	}
	return b
}

// galleryBoothOverfull is a load of which nothing is ready, with a long
// reason over it.
func galleryBoothOverfull() Booth {
	b := galleryBoothCrowded()
	b.Gate.Sentence = "9 seams not ready, and the probe of bay 2 was last read 17 min ago, limit 15 min: what lies in bay 2 cannot be told."
	for i := range b.Seams {
		if s := &b.Seams[i]; s.State == SeamReady {
			*s = BoothSeam{ID: s.ID, Place: s.Place, State: SeamNotLaid, Text: "wet bed laid, bead not · bay 2 · heavy-bodied white high-build, ribbon 25 mm, brushed", LayBy: clockAt(12, 5+i), Else: "or it misses tomorrow 08:20"}
		}
	}
	b.Seams[0] = BoothSeam{ID: b.Seams[0].ID, Place: b.Seams[0].Place, State: SeamHeld, Text: "bead disturbed at 10:20, its zone's air past the limits of the sheet", Else: "foreman to decide"}
	return b
}
