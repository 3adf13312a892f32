package journal

import (
	"context"
	"sync"
)

type (
	callerKey struct{}
	urgentKey struct{}
)

// WithCaller marks the commands of a context as one caller's: a terminal, a
// person, a program. Callers take turns, so that one who sends many commands
// does not keep the others waiting. All commands without a mark are one
// caller's.
func WithCaller(ctx context.Context, key string) context.Context {
	return context.WithValue(ctx, callerKey{}, key)
}

// Urgent marks the commands of a context as such that are waited for with a
// spray gun in the hand: they go before those that wait already, turn about
// when there are many of them.
func Urgent(ctx context.Context) context.Context {
	return context.WithValue(ctx, urgentKey{}, true)
}

// command is one call of Do from its arrival to its answer.
type command struct {
	ctx    context.Context
	id     string // known before the decision; empty: not
	decide Decide
	caller string
	urgent bool
	turn   chan turn // gets one value: the answer, or the lead

	gone bool // its caller went away while it waited
	held bool // in hand of who leads, not in the queue

	// The rest belongs to who has the command in hand.
	tries int
	solo  bool // it goes by itself
}

// turn is what a waiting command is told.
type turn struct {
	lead bool // run yourself, and for others: nobody else runs
	answer
}

// answer is what came of a command.
type answer struct {
	seq    uint64
	stored bool // by this call
	err    error
}

func newCommand(ctx context.Context, id string, decide Decide) *command {
	c := &command{ctx: ctx, id: id, decide: decide, turn: make(chan turn, 1)}
	c.caller, _ = ctx.Value(callerKey{}).(string)
	c.urgent, _ = ctx.Value(urgentKey{}).(bool)
	return c
}

// queue lets one command lead at a time and orders those that wait: callers
// take turns, each with its commands in the order of their arrival.
type queue struct {
	mu      sync.Mutex
	busy    bool // somebody leads; else nobody waits
	waiting int  // of those that are not urgent
	urgent  lane
	plain   lane
	back    []*command // had their turn and were put back: they go before the plain ones
	rushed  bool       // the last turn was an urgent one's
}

// enter lets a command lead at once, or puts it into the queue.
func (q *queue) enter(c *command) (lead bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if !q.busy {
		q.busy, c.held = true, true
		return true
	}
	if c.urgent {
		q.urgent.push(c)
	} else {
		q.waiting++
		q.plain.push(c)
	}
	return false
}

// leave hands the lead to the next command: an urgent one, but not two in a
// row while others wait.
func (q *queue) leave() {
	q.mu.Lock()
	defer q.mu.Unlock()
	c := q.hasty()
	if c == nil {
		q.rushed = false
		if c = q.pop(); c == nil {
			c = q.hasty()
		}
	}
	if c == nil {
		q.busy = false
		return
	}
	c.turn <- turn{lead: true}
}

// take gives the next command that is not urgent into the hand of who leads;
// nil: none waits.
func (q *queue) take() *command {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.pop()
}

func (q *queue) pop() *command {
	for {
		var c *command
		if len(q.back) > 0 {
			c, q.back = q.back[0], q.back[1:]
		} else {
			c = q.plain.pop()
		}
		if c == nil {
			return nil
		}
		if !c.gone {
			c.held = true
			q.waiting--
			return c
		}
	}
}

func (q *queue) hasty() *command {
	if q.rushed {
		return nil
	}
	c := q.urgent.pop()
	for c != nil && c.gone {
		c = q.urgent.pop()
	}
	if c != nil {
		q.rushed, c.held = true, true
	}
	return c
}

// putBack returns commands to the queue, in their order, before all others
// that are not urgent. Those whose caller went away meanwhile are told so.
func (q *queue) putBack(cs []*command) {
	if len(cs) == 0 {
		return
	}
	q.mu.Lock()
	defer q.mu.Unlock()
	stay := make([]*command, 0, len(cs)+len(q.back))
	for _, c := range cs {
		if c.ctx.Err() != nil {
			c.turn <- turn{answer: answer{err: cancelled(c.ctx)}}
			continue
		}
		c.held = false
		stay = append(stay, c)
	}
	q.waiting += len(stay)
	q.back = append(stay, q.back...)
}

// drop takes a command out of the queue whose caller went away; false: it is
// in somebody's hand, and will be told.
func (q *queue) drop(c *command) bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	if c.held {
		return false
	}
	c.gone = true
	if !c.urgent {
		q.waiting--
	}
	return true
}

// hurry reports whether an urgent command waits.
func (q *queue) hurry() bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	return len(q.urgent.order) > 0
}

// crowd is how many wait that are not urgent.
func (q *queue) crowd() int {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.waiting
}

// lane is the lines of some callers, who take turns.
type lane struct {
	lines map[string][]*command
	order []string // callers with a line, the next one first
}

func (l *lane) push(c *command) {
	if l.lines == nil {
		l.lines = map[string][]*command{}
	}
	if len(l.lines[c.caller]) == 0 {
		l.order = append(l.order, c.caller)
	}
	l.lines[c.caller] = append(l.lines[c.caller], c)
}

func (l *lane) pop() *command {
	if len(l.order) == 0 {
		return nil
	}
	caller := l.order[0]
	l.order = l.order[1:]
	line := l.lines[caller]
	c := line[0]
	line[0] = nil
	if len(line) == 1 {
		delete(l.lines, caller)
	} else {
		l.lines[caller] = line[1:]
		l.order = append(l.order, caller)
	}
	return c
}
