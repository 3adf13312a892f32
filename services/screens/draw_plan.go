package screens

// drawPlan draws the foreman's desk.
func drawPlan(p Plan, r ref, said *Result) (page, error) {
	d := newDrawer(r, p.Picture)
	loads := make([]part, 0, len(p.Loads))
	for _, l := range p.Loads {
		loads = append(loads, d.draw("plan-load", domID("load", l.ID), l))
	}
	bays := make([]part, 0, len(p.Bays))
	for _, b := range p.Bays {
		bays = append(bays, d.draw("plan-bay", domID("bay", b.Name), b))
	}
	parts := []part{
		d.fault(p.Picture),
		d.draw("plan-head", "head", p),
		d.draw("said", "said", said),
		d.group("plan-loads", "loads", p.Planning, loads),
		d.draw("plan-answer", "answer", p.Answer),
		d.group("plan-bays", "bays", nil, bays),
		d.draw("plan-ask", "ask", p),
		d.draw("plan-hand", "hand", p),
	}
	return finish(d, r, p.Picture, "Booth plan", "plan-body", parts)
}
