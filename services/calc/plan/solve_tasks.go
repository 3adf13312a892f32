package plan

// runTasks is run for problems with tasks.
func (s *solver) runTasks() {
	most := 400_000 // nodes
	if s.rounds > 0 {
		most = min(most, 20*s.rounds)
	}
	d := newDecoder(s.m, s.seq)
	l := newSearcher(s.m, d, s.d, s.more)
	floor := s.floor - s.m.base
	small := len(s.m.loads) <= 9 && len(s.m.tasks) <= 24
	if small {
		s.done = l.iterate(30, floor)
	}
	d.load(l.seq)
	s.best = d.course()
	if small && s.best.cost > s.floor+tight(s.floor) {
		c, ok := s.m.branch(s.best.cost-s.m.base, most, s.more)
		if c != nil {
			s.best = c
		}
		s.proved = ok
	}
	if !s.proved && s.best.cost > s.floor+tight(s.floor) {
		rest := s.rounds
		if rest == 0 {
			rest = 1 << 40
		}
		s.done += l.iterate(rest, floor)
		d.load(l.seq)
		if c := d.course(); c.cost < s.best.cost {
			s.best = c
		}
	}
	s.proved = s.proved || s.best.cost <= s.floor+tight(s.floor)
	if s.proved {
		s.floor = s.best.cost
	}
}
