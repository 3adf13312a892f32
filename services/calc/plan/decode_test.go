package plan

import "testing"

// TestAnyOrderMakesAPlanThatHolds gives orders by chance to the decoder: what
// it makes of them may be poor but must hold.
func TestAnyOrderMakesAPlanThatHolds(t *testing.T) {
	d := newDice(31)
	for k := range rounds(t, 3000, 30_000) {
		p := randomProblem(d, mix{
			loads: 2 + d.below(12), tasks: 4 + d.below(20), booths: 1 + d.below(2), slots: 10 + d.below(50), long: 1 + d.below(5),
			frozen: true, windows: true, waits: d.below(2) == 0, tightCalendar: d.below(3) == 0,
		})
		if err := p.Check(); err != nil {
			t.Fatal(err)
		}
		m := compile(&p)
		seq := make([][]int32, len(m.booths))
		for _, x := range d.order(len(m.free)) {
			j := m.free[x]
			b := m.loads[j].booths[d.below(len(m.loads[j].booths))]
			seq[b] = append(seq[b], j)
		}
		c := newDecoder(m, m.withRest(seq)).course()
		got := m.report(&p, c, m.floor(), false, 0, nil)
		if err := judge(&p, &got); err != nil {
			t.Fatalf("problem %d: %v\n%s\n%s", k, err, show(p), show(got))
		}
	}
}
