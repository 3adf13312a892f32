package run

// pick is a seam and the place of the cartridge that it is laid from.
type pick struct{ seam, entry int }

// way is a run as a list of picks. The cartridges and nozzles follow.
type way struct {
	picks []pick
	cost  cost
}

// play works a list of picks out from the beginning; false when one of them
// cannot be. It gives up once more nozzles are fitted than at most.
func (m *model) play(st *state, picks []pick, most int32) bool {
	m.reset(st)
	return m.follow(st, picks, most)
}

// follow plays picks on from a state.
func (m *model) follow(st *state, picks []pick, most int32) bool {
	for _, p := range picks {
		v, ok := m.try(st, p.seam, p.entry)
		if !ok || st.cost.nozzles+v.add.nozzles > most {
			return false
		}
		m.do(st, p.seam, v)
	}
	st.cost.left = int32(len(m.seams) - st.count)
	return true
}

// decode lays seams in an order, each in the way that is nearest to hand: by
// the nozzle in hand, else by one that is still good, else by another nozzle on
// the cartridge in use, else from the next cartridge that holds it. With ahead
// it looks for the cartridge that holds the most of the following seams too.
func (m *model) decode(order []int, ahead bool) way {
	st := m.begin()
	w := way{}
	var buf []int
	for i, s := range order {
		best, bestMove, found := 0, move{}, false
		var reach int
		buf = m.options(&st, s, buf)
		for _, e := range buf {
			v, ok := m.try(&st, s, e)
			if !ok {
				continue
			}
			far := 0
			if ahead && v.how == takeNext {
				far = m.reach(order[i+1:], s, v.left)
			}
			if !found || v.how < bestMove.how || v.how == bestMove.how && far > reach {
				best, bestMove, found, reach = e, v, true, far
			}
		}
		if found {
			m.do(&st, s, bestMove)
			w.picks = append(w.picks, pick{s, best})
		}
	}
	st.cost.left = int32(len(m.seams) - st.count)
	w.cost = st.cost
	return w
}

// reach is how many of the seams that follow in an order could be laid through
// the same nozzle.
func (m *model) reach(order []int, after int, left int64) int {
	n := 0
	a := &m.seams[after]
	for _, s := range order {
		b := &m.seams[s]
		if b.prod != a.prod || !a.tip.serves(b.tip) || b.join || left < b.vol || m.pause(after, s) > m.products[a.prod].gel {
			break
		}
		n, left, after, a = n+1, left-b.vol, s, b
	}
	return n
}
