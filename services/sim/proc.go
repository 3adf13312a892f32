package sim

import (
	"container/heap"
	"iter"
	"math/rand/v2"
	"time"
)

// proc is somebody or something in the shop that acts by itself: a car's
// repair, a painter, a probe. It is written as straight code that waits; only
// one runs at a time, in the order of moments and then of asking, so that a
// seed gives one history.
type proc struct {
	s     *sim
	name  string
	yield func(time.Time) bool
	next  func() (time.Time, bool)
	stop  func()
	at    time.Time
	order int

	job    *job       // that it is about; nil: none
	chance *rand.Rand // its own, where luck is fixed
}

// stopped unwinds a process whose simulation has ended.
type stopped struct{}

// until waits for a moment; one that has passed does not wait.
func (p *proc) until(at time.Time) {
	if at.Before(p.s.now) {
		at = p.s.now
	}
	if !p.yield(at) {
		panic(stopped{})
	}
}

// wait waits for a length of time.
func (p *proc) wait(d time.Duration) { p.until(p.s.now.Add(d)) }

// poll waits until something is so, looking again after every pause.
func (p *proc) poll(pause time.Duration, so func() bool) {
	for !so() {
		p.wait(pause)
	}
}

// queue orders processes by the moment that they wait for.
type queue struct {
	list  []*proc
	order int
}

func (q *queue) Len() int { return len(q.list) }
func (q *queue) Less(i, j int) bool {
	a, b := q.list[i], q.list[j]
	return a.at.Before(b.at) || a.at.Equal(b.at) && a.order < b.order
}
func (q *queue) Swap(i, j int) { q.list[i], q.list[j] = q.list[j], q.list[i] }
func (q *queue) Push(x any)    { q.list = append(q.list, x.(*proc)) }
func (q *queue) Pop() any {
	n := len(q.list) - 1
	p := q.list[n]
	q.list = q.list[:n]
	return p
}

func (q *queue) put(p *proc, at time.Time) {
	q.order++
	p.at, p.order = at, q.order
	heap.Push(q, p)
}

// spawn starts a process at a moment.
func (s *sim) spawn(name string, at time.Time, body func(*proc)) {
	p := &proc{s: s, name: name}
	p.next, p.stop = iter.Pull(func(yield func(time.Time) bool) {
		p.yield = yield
		defer func() {
			if r := recover(); r != nil {
				if _, ended := r.(stopped); !ended {
					panic(r)
				}
			}
		}()
		if !yield(at) {
			return
		}
		body(p)
	})
	if first, ok := p.next(); ok {
		s.queue.put(p, first)
	}
}

// run lets the processes act until a moment, time moving on between them.
func (s *sim) run(end time.Time) {
	for s.err == nil && s.queue.Len() > 0 {
		p := s.queue.list[0]
		if !end.IsZero() && p.at.After(end) {
			break
		}
		heap.Pop(&s.queue)
		s.moveTo(p.at)
		if s.err != nil {
			s.queue.put(p, p.at)
			break
		}
		if at, ok := s.act(p); ok {
			s.queue.put(p, at)
		}
	}
	if s.err == nil && !end.IsZero() {
		s.moveTo(end)
	}
}

// close ends every process.
func (s *sim) close() {
	for s.queue.Len() > 0 {
		heap.Pop(&s.queue).(*proc).stop()
	}
}
