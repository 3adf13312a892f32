package screens

import "time"

func galleryRun() Run {
	n := known
	return Run{
		Picture: galleryPicture(), Zone: "Bay 1", At: clockAt(10, 43), HotC: n(19.4), ReadC: n(18.9), ReadAt: clockAt(10, 40),
		Sum:   "3 seams, 2 nozzles, no cartridge opened, 135.3 ml taken: 109.8 on the seams, 5.5 tooled off them, 20.0 lost; 9 min",
		Naive: "3 seams, 3 nozzles, no cartridge opened, 145.3 ml taken: 109.8 on the seams, 5.5 tooled off them, 30.0 lost; 12 min",
		Steps: []RunStep{
			{
				N: 1, Place: "Roof ditch L", RO: "2207", ML: n(31.4), LeftML: n(112.6), After: 110 * time.Second, Cartridge: "cartridge 31",
				Change: "take cartridge 31, fit nozzle 1, round tip cut at 6 mm, and purge it", Why: "Take C31, use by 2026-08-31, the first to expire that holds it.",
			},
			{N: 2, Place: "Roof ditch R", RO: "2207", ML: n(31.4), LeftML: n(79.6), After: 215 * time.Second, Cartridge: "cartridge 31", Change: "cut the tip to 8 mm"},
			{
				N: 3, Place: "Rear panel to floor", RO: "2207", ML: n(47), LeftML: n(92.3), After: 430 * time.Second, Cartridge: "cartridge 28",
				Change: "take cartridge 28, fit nozzle 2, spreader cut at 25 mm, and purge it", Why: "hb-white after sl-grey. Take C28, use by 2026-05-30, the first to expire that holds it.",
			},
		},
		Left: []RunLeft{
			{[]RunSeam{{"Quarter to wheelhouse L", "2207"}}, "The epoxy-primer under it is dry from 11:05: wait for it."},
			{[]RunSeam{{"Tailgate hem", "2207"}}, "The inspection did not accept the seam: weld spatter in the joint; a foreman answers finding 391.1 first."},
			{[]RunSeam{{"Door hem LF", "2207"}, {"Door hem LR", "2207"}, {"Sill joint L", "2207"}}, "It is planned and not prepped: clean and prep it, and tell so."},
		},
		After: []RunLine{{"cartridge 31", "79.6 ml left. Store it with its nozzle on; next time fit another and purge it again, 10 ml."}},
		Aside: []RunLine{
			{"lot HW-2411", "it expired on 2026-02-27"},
			{"cartridge 29", "it holds 9 ml and a new nozzle takes 10 ml of it, 5 to purge and 5 that stay in it: nothing would be left for a bead, so throw it away"},
			{"cartridge 30", "48 ml are in it and good: with it the run takes 3 nozzles in place of 2, and each new one takes 10 ml."},
		},
		Products: []RunProduct{
			{Name: "Grey self-levelling", Label: "52 kJ/mol, stated by the product", Fit: "54.1 kJ/mol (48.2 to 60) from 6 observations", Stages: []RunStage{
				{"flow-out", n(15), n(14.2)}, {"handling", n(45), n(47.5)},
			}},
			{Name: "White heavy-bodied", Label: "45 to 60 kJ/mol, nothing stated", Guessed: true, Fit: "nobody noted when a stage was reached; the desk tells it: seamwright tell stage-observed"},
		},
	}
}

func galleryRunEmpty() Run {
	v := galleryRunNothing()
	v.Left, v.Stale, v.ReadAt = nil, false, clockAt(10, 40)
	return v
}

func galleryRunNothing() Run {
	return Run{
		Picture: galleryPicture(), Zone: "Bay 2", At: clockAt(10, 43), HotC: known(25), ReadC: known(21.2), ReadAt: clockAt(10, 22), Stale: true,
		Left: []RunLeft{{[]RunSeam{{"Cowl to bulkhead", "2219"}, {"Cowl to wing L", "2219"}}, "It is planned and not prepped: clean and prep it, and tell so."}},
	}
}
