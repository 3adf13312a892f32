package cure

import "cmp"

// entry is one clock in a keeper: some 60 bytes beside its place in the heap
// and in the keeper's index.
type entry[ID cmp.Ordered] struct {
	id     ID
	lane   *lane[ID]
	from   int64
	amount float64 // age to be passed, s
	key    float64 // cumulative age of the zone at which it is due
	at     int64   // when it fell due
	pos    int32   // place in the lane's heap, or one of the marks below
	open   int32   // place in the lane's open list, -1: begun by the last reading
}

const (
	fired  int32 = -1 // due and told
	atOnce int32 = -2 // nothing to be passed: due when it begins
)

// lane is the heap of one law and side: the least key on top.
type lane[ID cmp.Ordered] struct {
	law  Law
	side Side
	heap []*entry[ID]
	open []*entry[ID] // begun after the last reading: keys still move
	live int          // entries of this lane, due ones too
}

func (l *lane[ID]) push(e *entry[ID]) {
	e.pos = int32(len(l.heap))
	l.heap = append(l.heap, e)
	l.up(int(e.pos))
}

func (l *lane[ID]) pop() *entry[ID] {
	top := l.heap[0]
	l.take(top)
	return top
}

// take removes an entry from wherever it stands in the heap.
func (l *lane[ID]) take(e *entry[ID]) {
	i, last := int(e.pos), len(l.heap)-1
	if i != last {
		l.set(i, l.heap[last])
	}
	l.heap[last] = nil
	l.heap = l.heap[:last]
	if i != last {
		l.fix(i)
	}
	e.pos = fired
}

// fix restores the order after the key at place i has changed.
func (l *lane[ID]) fix(i int) {
	if !l.up(i) {
		l.down(i)
	}
}

func (l *lane[ID]) set(i int, e *entry[ID]) {
	l.heap[i], e.pos = e, int32(i)
}

func (l *lane[ID]) up(i int) bool {
	e, moved := l.heap[i], false
	for i > 0 {
		parent := (i - 1) / 2
		if l.heap[parent].key <= e.key {
			break
		}
		l.set(i, l.heap[parent])
		i, moved = parent, true
	}
	l.set(i, e)
	return moved
}

func (l *lane[ID]) down(i int) {
	e := l.heap[i]
	for {
		child := 2*i + 1
		if child >= len(l.heap) {
			break
		}
		if r := child + 1; r < len(l.heap) && l.heap[r].key < l.heap[child].key {
			child = r
		}
		if e.key <= l.heap[child].key {
			break
		}
		l.set(i, l.heap[child])
		i = child
	}
	l.set(i, e)
}

// order makes a heap of entries in any order, in linear time.
func (l *lane[ID]) order() {
	for i := len(l.heap)/2 - 1; i >= 0; i-- {
		l.down(i)
	}
}

// upTo calls f for every entry whose key is at most limit, in no order, and
// returns the first beyond them; it looks at no others.
func (l *lane[ID]) upTo(limit float64, f func(*entry[ID])) *entry[ID] {
	var next *entry[ID]
	stack := []int{0}
	for len(stack) > 0 {
		i := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		if i >= len(l.heap) {
			continue
		}
		e := l.heap[i]
		if e.key > limit {
			if next == nil || e.key < next.key || e.key == next.key && e.id < next.id {
				next = e
			}
			continue
		}
		f(e)
		stack = append(stack, 2*i+1, 2*i+2)
	}
	return next
}

// opened adds to the list of entries begun after the last reading.
func (l *lane[ID]) opened(e *entry[ID]) {
	e.open = int32(len(l.open))
	l.open = append(l.open, e)
}

// closed takes an entry off that list.
func (l *lane[ID]) closed(e *entry[ID]) {
	if e.open < 0 {
		return
	}
	last := len(l.open) - 1
	l.open[e.open] = l.open[last]
	l.open[e.open].open = e.open
	l.open[last] = nil
	l.open, e.open = l.open[:last], -1
}
