package cure_test

import (
	"fmt"
	"time"

	"seamwright/services/calc/cure"
)

// A sealer whose label says 30 minutes at 21 °C, laid at nine o'clock in a
// bay that is a little cooler than that.
func ExampleJudge() {
	day := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	bay, err := cure.NewCourse(cure.Zone{
		Limits: cure.Set{Lo: 5, Hi: 35}, ProbeErrorC: 0.5, DriftPerMin: 0.2,
		StaleAfter: 15 * time.Minute, Settling: 30 * time.Minute,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	for m := -20; m <= 20; m += 5 {
		if _, err := bay.Append(cure.Reading{At: day.Add(time.Duration(m) * time.Minute), C: 19}); err != nil {
			fmt.Println(err)
			return
		}
	}
	law, err := cure.NewLaw(52e3, 21)
	if err != nil {
		fmt.Println(err)
		return
	}
	opens := cure.Clock{Kind: cure.Ready, Law: law, From: day, Needed: 30 * time.Minute, Tolerance: 0.1}

	v := cure.Judge(bay, opens, day.Add(20*time.Minute))
	fmt.Printf("reached: %v, surely done %.0f %%\n", v.Reached, 100*v.Progress())
	fmt.Println("clear", v.DueCold.Format("15:04"), "may be ready from", v.DueHot.Format("15:04"))
	// Output:
	// reached: no, surely done 50 %
	// clear 09:40 may be ready from 09:29
}
