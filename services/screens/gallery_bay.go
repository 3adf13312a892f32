package screens

import "time"

func galleryBay() Bay {
	return Bay{Picture: galleryPicture(), Terminal: "bay-2", Zone: "Bay 2", People: galleryPeople()}
}

func galleryNozzle() *Nozzle {
	return &Nozzle{
		State: NozzleGood, Product: "heavy-bodied white", Cartridge: "31", LeftML: known(86), FlowedAt: clockAt(10, 40),
		GelsAt: clockAt(10, 48).Add(12 * time.Second), GelTime: 8*time.Minute + 12*time.Second, Advice: "keep it moving",
	}
}

func galleryJob() *BayJob {
	return &BayJob{RO: "2207", Vehicle: "blue hatchback", Colour: "blue", Promised: clockAt(16, 30), Seams: []BayLine{
		{ID: "2207.rear-panel-floor", Place: "Rear panel to floor", Stage: "prepped", Mark: MarkLay, Next: "lay the bead", By: clockAt(12, 5)},
		{ID: "2207.roof-ditch-l", Place: "Roof ditch L", Stage: "flowing", Mark: MarkFlowing, Next: "wait: opens 11:07"},
		{ID: "2207.roof-ditch-r", Place: "Roof ditch R", Stage: "flowing", Mark: MarkFlowing, Next: "wait: opens 11:15"},
		{ID: "2207.sill-l", Place: "Sill L", Stage: "laid", Mark: MarkHold, Hold: "nozzle past gel time when laid: foreman to decide"},
		{ID: "2207.door-hem-lf", Place: "Door hem LF", Stage: "open", Mark: MarkOpen, Next: "ready for paint until 14:06"},
		{ID: "2207.fuel-flap", Place: "Fuel flap surround", Stage: "accepted", Mark: MarkFinished},
	}}
}

func galleryBayPick() Bay {
	b := galleryBay()
	b.Cars = []BayCar{
		{RO: "2207", Vehicle: "Blue hatchback", Promised: clockAt(16, 30), Next: "lay rear panel to floor", By: clockAt(12, 5), Open: 4, Here: true},
		{RO: "2214", Vehicle: "Silver estate", Promised: clockAt(34, 0), Next: "lay quarter to wheelhouse R", By: clockAt(13, 20), Open: 3, Holds: 1},
		{RO: "2219", Vehicle: "Red saloon", Promised: clockAt(4*24+12, 0), Next: "prep apron L upper", Open: 2},
		{RO: "2198", Vehicle: "White van with the very long wheelbase and high roof", Promised: clockAt(13, 0), Open: 0},
	}
	return b
}

func galleryBaySeams() Bay {
	b := galleryBay()
	b.Job = galleryJob()
	return b
}

func gallerySteps(now int) []Step {
	out := []Step{{Label: "prep"}, {Label: "purge"}, {Label: "lay bead"}, {Label: "brush"}, {Label: "inspect"}}
	done := []string{"prepped", "purged", "laid", "brushed", "inspected"}
	for i := range out {
		switch {
		case i < now:
			out[i] = Step{done[i], StepDone}
		case i == now:
			out[i].State = StepNow
		}
	}
	return out
}

func galleryBayLay() Bay {
	b := galleryBaySeams()
	b.Nozzle = galleryNozzle()
	b.Seam = &BaySeam{
		ID: "2207.rear-panel-floor", Place: "Rear panel to floor", RO: "2207", Steps: gallerySteps(2),
		Do: "lay the bead", By: clockAt(12, 5), For: "for the 12:40 load",
		Work: &Work{
			Product: "heavy-bodied white", Profile: "ribbon 25 mm, brushed", Reference: "factory: ribbon 24 mm, white; seen in the survey photo",
			LengthMM: known(1240), VolumeML: known(47), Nozzle: "spreader cut at 25 mm",
			Technique: "direct on e-coat, brush within 10 min", Reason: "heavy-bodied keeps brush marks and stands as laid",
		},
		Cautions: []string{"Keep the drain hole at the left corner open."},
		Next: &Button{
			Kind: DoLay, Label: "Bead laid", Hint: "47 ml from cartridge 31, as planned", Ready: true,
			Given: []Given{{"cartridge", "31"}, {"volume_ml", "47"}},
		},
		Else: []Button{
			{Kind: DoLay, Label: "Laid earlier, or with another volume", Ready: true, Asks: []Ask{
				{Name: "age_min", Label: "How long ago", Type: AskNumber, Unit: "min", Min: "0", Max: "480", Value: "0", Need: true},
				{Name: "volume_ml", Label: "Volume", Type: AskNumber, Unit: "ml", Min: "0", Value: "47", Need: true},
			}},
			{Kind: DoDisturbed, Label: "Bead disturbed", Ready: true, Grave: true, Asks: []Ask{{Name: "reason", Label: "What happened", Type: AskText}}},
			{Kind: DoScuff, Label: "Scuffed", Ready: true},
			{Kind: DoRedo, Label: "Taken off: do it again", Ready: true, Grave: true, Asks: []Ask{{Name: "reason", Label: "Why", Type: AskText, Need: true}}},
			{Kind: DoNozzleOff, Label: "Nozzle taken off", Ready: true, Given: []Given{{"cartridge", "31"}}},
		},
		Undo:   &Button{Kind: DoWithdraw, Label: "Undo last", Ready: true, Given: []Given{{"fact", "410"}}},
		UndoAt: clockAt(10, 42).Add(19 * time.Second),
	}
	return b
}

// galleryBayCautions is a step with all that may stand on it at once.
func galleryBayCautions() Bay {
	b := galleryBayLay()
	b.Seam.Place = "Rear panel to floor extension behind the spare wheel well"
	b.Seam.Why = "Into the bed while it is wet."
	b.Seam.Findings = []string{"query: 1.8 K above the dew point when laid, at least 3 K asked for"}
	b.Seam.Cautions = []string{
		"Lay the bead while the bed is wet; or set it on tape off the panel, peel it, scuff its back and press it into the bed.",
		"Brush inside the tooling time.",
		"Keep the drain holes open.",
		"Lay only with the surface at least 3 K above the dew point and the air not above 85 % relative humidity.",
	}
	return b
}

func galleryBayGelled() Bay {
	b := galleryBayLay()
	b.Now = clockAt(10, 52)
	b.Nozzle.State, b.Nozzle.Advice = NozzleMay, "take it off; fit and purge a new one before you lay"
	b.Seam.Steps = gallerySteps(1)
	b.Seam.Do = "fit a new nozzle and purge it"
	b.Seam.Why = "At the warm end of the probe's range the mix has been still for longer than its gel time of 8 min."
	b.Seam.Next = &Button{
		Kind: DoPurge, Label: "New nozzle purged", Ready: true, Given: []Given{{"cartridge", "31"}},
		Asks: []Ask{{Name: "volume_ml", Label: "Purged", Type: AskNumber, Unit: "ml", Min: "0", Max: "30", Value: "6", Need: true}},
	}
	b.Seam.UndoAt = clockAt(10, 40)
	return b
}

func galleryBayFlowing() Bay {
	b := galleryBaySeams()
	b.Seam = &BaySeam{
		ID: "2207.roof-ditch-l", Place: "Roof ditch L", RO: "2207",
		Steps: []Step{{"prepped", StepDone}, {"purged", StepDone}, {"laid", StepDone}, {"de-air", StepNow}, {"paint", StepTodo}, {"inspect", StepTodo}},
		Do:    "take the trapped air out with gentle heat", By: clockAt(10, 50),
		Why:   "Air trapped below a self-levelling bead comes up while it flows.",
		Clock: &SeamClock{Doing: "flow-out", Since: clockAt(10, 31), DoneSure: 0.71, DoneMaybe: 0.78, ReadyAt: clockAt(11, 7), MaybeFrom: clockAt(10, 57)},
		Work: &Work{
			Product: "self-levelling standard, grey", Profile: "levelled 12 mm", Reference: "factory: levelled 12 mm, body colour",
			LengthMM: known(1680), VolumeML: known(61), Technique: "direct bead over epoxy primer", Reason: "never on bare metal or self-etch primer",
		},
		Cautions: []string{"Keep the heat gun moving and away from solvent."},
		Next:     &Button{Kind: DoDeair, Label: "Air is out", Ready: true},
		Else: []Button{
			{Kind: DoDisturbed, Label: "Bead disturbed", Ready: true, Grave: true},
			{Kind: DoHeat, Label: "Heat applied", Ready: true, Asks: []Ask{{Name: "minutes", Label: "For", Type: AskNumber, Unit: "min", Need: true}}},
		},
		Undo: &Button{Kind: DoWithdraw, Label: "Undo last", Ready: true, Given: []Given{{"fact", "412"}}}, UndoAt: clockAt(10, 42).Add(50 * time.Second),
	}
	return b
}

func galleryBayHold() Bay {
	b := galleryBayLay()
	b.Now = clockAt(10, 52)
	b.Nozzle.State, b.Nozzle.Advice = NozzleGelled, "take it off; fit and purge a new one"
	b.Seam.Steps = gallerySteps(3)
	b.Seam.Do, b.Seam.By, b.Seam.For = "wait for the foreman", time.Time{}, ""
	b.Seam.Hold = "nozzle past gel time when laid: foreman to decide"
	b.Seam.Clock = &SeamClock{Doing: "tooling time", Since: clockAt(10, 43), Expires: clockAt(10, 56).Add(20 * time.Second)}
	b.Seam.Findings = []string{"query: 1.8 K above the dew point when laid, at least 3 K asked for"}
	b.Seam.Why = "A bead from a gelling nozzle may be badly mixed and stay soft."
	b.Seam.Next = &Button{Kind: DoTool, Label: "Bead brushed", Ready: true, Hint: "it may be brushed while it waits"}
	return b
}

func galleryBayFinished() Bay {
	b := galleryBaySeams()
	b.Seam = &BaySeam{
		ID: "2207.fuel-flap", Place: "Fuel flap surround", RO: "2207", Done: "accepted 09:55 by A. Vellacorn",
		Steps: []Step{{"laid", StepDone}, {"painted", StepDone}, {"tested", StepDone}, {"accepted", StepDone}},
		Work: &Work{
			Product: "medium-bodied white", Profile: "round 6 mm", Reference: "factory: round 6 mm, body colour",
			LengthMM: known(610), VolumeML: known(9.4), Technique: "tape edge",
			More: []Line{{"Measured", "6.1 mm wide, 2.9 mm high", "colour difference 0.6, limit 2"}, {"Water test", "tight, 10 min", ""}},
		},
		Undo: &Button{Kind: DoWithdraw, Label: "Undo last", Ready: true, Given: []Given{{"fact", "377"}}}, UndoAt: clockAt(9, 55),
	}
	return b
}

// galleryBayDoubt is a finished seam whose cartridge gave more than it held.
func galleryBayDoubt() Bay {
	b := galleryBayFinished()
	b.Seam.Findings = []string{"query: 5000.0 ml out of cartridge 31 are 4832.0 ml more than it held; weigh or mark it."}
	cartridge := []Given{{"cartridge", "31"}}
	b.Seam.Else = []Button{
		{Kind: DoCorrect, Label: "The bead took another volume", Hint: "told by T. Orrable as 5000 ml; who told it corrects it", Ready: true, Given: []Given{{"fact", "371"}}, Asks: []Ask{
			{Name: "volume_ml", Label: "Volume", Type: AskNumber, Unit: "ml", Min: "0", Max: "1000", Need: true},
			{Name: "reason", Label: "Why", Type: AskText, Value: "mistyped", Need: true},
		}},
		{Kind: DoWeigh, Label: "Cartridge 31: what is left", Ready: true, Given: cartridge, Asks: []Ask{
			{Name: "volume_ml", Label: "Left", Type: AskNumber, Unit: "ml", Min: "0", Max: "10000", Need: true},
			{Name: "how", Label: "Read", Type: AskPick, Value: "marked", Need: true, Options: []Option{{"marked", "Off a mark on the plunger"}, {"weighed", "Off a scale"}}},
		}},
		{Kind: DoEmpty, Label: "Cartridge 31 is empty", Ready: true, Given: cartridge},
	}
	return b
}
