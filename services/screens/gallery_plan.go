package screens

func galleryPlan() Plan {
	return Plan{
		Picture: galleryPicture(), Planning: true,
		Words: []PlanWord{{Text: "Spray 2223-A by 16:10 today or scuff Monday"}},
		Loads: []PlanLoad{
			{ID: "2198-A", Vehicle: "White van", Colour: "white", Booth: "Booth 1", Start: clockAt(9, 40), End: clockAt(11, 25), Due: clockAt(13, 0), Why: "in the booth until about 11:25"},
			{ID: "2207-A", Vehicle: "Blue hatchback", Colour: "blue", Booth: "Booth 1", Order: 1, Start: clockAt(12, 40), End: clockAt(14, 0), Latest: clockAt(13, 16), Due: clockAt(16, 30), Slack: "20 min", Why: "waits for rear panel to floor until 12:40; 20 min of slack before its latest start; latest start 13:16", Waits: []string{"lay rear panel to floor"}},
			{ID: "2214-A", Vehicle: "Silver estate", Colour: "silver", Booth: "Booth 1", Order: 2, Start: clockAt(14, 20), End: clockAt(15, 45), Due: clockAt(34, 0), Slack: "75 min", Why: "behind 2207-A, after 20 min of setup to silver; 75 min of slack if 2223-A behind it keeps its place", Waits: []string{"strut tower R: nozzle past gel time when laid; foreman to decide", "lay quarter to wheelhouse R"}},
			{ID: "2223-A", Vehicle: "Green pick-up", Colour: "green", Booth: "Booth 1", Order: 3, Start: clockAt(16, 5), End: clockAt(17, 20), Latest: clockAt(16, 10), Due: clockAt(17, 0), State: "80 min late", Bad: true, Slack: "0 min", Why: "put there by hand, though booth-1 closes at 17:00, before it is out"},
			{ID: "2219-A", Vehicle: "Red saloon", Colour: "red", Due: clockAt(4*24+12, 0), State: "no place", Bad: true, Why: "booth-2 is out of use (fan)", Waits: []string{"lay 9 seams"}},
		},
		Bays: []PlanBay{
			{Name: "Bay 1", Works: []PlanWork{
				{Text: "lay rear panel to floor on 2207", By: clockAt(12, 5), For: "or it misses 12:40"},
				{Text: "scuff cab corner L on 2223", By: clockAt(15, 50), For: "or it misses 16:05"},
			}},
			{Name: "Bay 2", Works: []PlanWork{{Text: "lay quarter to wheelhouse R on 2214", By: clockAt(10, 40), For: "or it misses 14:20", Late: true}}},
		},
		Seams:   []Named{{"2207/rear-panel-floor", "2207 rear panel to floor"}, {"2214/quarter-wheelhouse-r", "2214 quarter to wheelhouse R"}},
		Booths:  []Named{{"b1", "Booth 1"}, {"b2", "Booth 2"}},
		Waiting: []Named{{"2207-A", "2207-A blue hatchback"}, {"2214-A", "2214-A silver estate"}},
		Days:    []Named{{"2026-03-03", "tomorrow"}, {"2026-03-04", "Wed 4 Mar"}},
		Place:   galleryPlace(), Free: galleryFree(),
	}
}

// Who places a load, and with which PIN.
func galleryForeman() []Ask {
	return []Ask{
		{Name: "person", Label: "Foreman", Type: AskPick, Need: true, Value: "A. Vellacorn", Options: []Option{{"A. Vellacorn", "A. Vellacorn"}}},
		{Name: "pin", Label: "PIN", Type: AskPIN, Need: true},
		{Name: "reason", Label: "Reason", Type: AskText},
	}
}

func galleryPlace() *Button {
	return &Button{
		Kind: DoPlaceLoad, Label: "Put a load by hand", Hint: "Without a start it stays in the booth, and when is the planner's.", Ready: true,
		Asks: append([]Ask{
			{Name: "load", Label: "Load", Type: AskPick, Need: true, Options: []Option{{"2207-A", "2207-A blue hatchback"}, {"2214-A", "2214-A silver estate"}}},
			{Name: "booth", Label: "Booth", Type: AskPick, Options: []Option{{"", "its own"}, {"b1", "Booth 1"}, {"b2", "Booth 2"}}},
			{Name: "start", Label: "Start", Type: AskText, Hint: "14:10, or 3 Mar 14:10"},
		}, galleryForeman()...),
	}
}

func galleryFree() *Button {
	return &Button{
		Kind: DoFreeLoad, Label: "Give a load back to the planner", Ready: true,
		Asks: append([]Ask{{Name: "load", Label: "Load", Type: AskPick, Need: true, Options: []Option{{"2223-A", "2223-A green pick-up"}}}}, galleryForeman()...),
	}
}

func galleryPlanAnswer() Plan {
	p := galleryPlan()
	p.Asked = Question{Seam: "2207/rear-panel-floor", Until: "14:00", Day: "2026-03-03"}
	p.Answer = &PlanAnswer{
		Question: "rear panel to floor on 2207 waits until tomorrow 14:00", Summary: "It costs 45 weighted minutes more.",
		Changes: []string{
			"2214-A starts 95 min earlier, at 12:45 instead of 14:20",
			"2207-A starts 115 min later, at 14:35 instead of 12:40, makes its car 45 min late",
		},
	}
	return p
}

func galleryPlanOff() Plan {
	p := galleryPlan()
	p.Planning, p.Loads, p.Bays, p.Seams, p.Waiting, p.Place, p.Free = false, nil, nil, nil, nil, nil, nil
	p.Words = []PlanWord{{Text: "Booth plan: the plan could not be made (a fault of the program); loads stand where they stood; tell whoever looks after the program", Trouble: true}}
	return p
}
