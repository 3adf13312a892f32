package screens

import (
	"fmt"
	"sync"
)

// remembered is how many results are kept to be shown and repeated.
const remembered = 4096

// outcomes remembers what came of each command, so that a page can tell it
// after the way back, and so that a press that arrives twice at the same
// moment waits for the first. It is no safeguard by itself: the Source keeps
// to the command id for days.
type outcomes struct {
	mu    sync.Mutex
	byID  map[string]*outcome
	order []string
}

type outcome struct {
	done chan struct{}
	what sum // the action but for who relayed it; hashed, as it may hold a PIN
	res  Result
	err  error
}

func newOutcomes() *outcomes { return &outcomes{byID: map[string]*outcome{}} }

// once runs post for a command id that is new; a repeat of the same action
// gets the first one's result. An error is forgotten, so that the person can
// press again; another action under the same id is the Source's to refuse.
func (o *outcomes) once(a Action, post func() (Result, error)) (Result, error) {
	what := sumOf(fmt.Sprintf("%q %q %q %q %q %q", a.Kind, a.RO, a.Seam, a.Booth, a.Actor, a.Fields))
	o.mu.Lock()
	if old, ok := o.byID[a.CommandID]; ok {
		o.mu.Unlock()
		if old.what != what {
			return post()
		}
		<-old.done
		return old.res, old.err
	}
	n := &outcome{done: make(chan struct{}), what: what}
	o.byID[a.CommandID] = n
	o.mu.Unlock()

	finished := false
	defer func() {
		o.settle(a.CommandID, n, finished && n.err == nil)
	}()
	n.res, n.err = post()
	finished = true
	return n.res, n.err
}

// settle ends the wait of repeats and keeps the result if there is one.
func (o *outcomes) settle(id string, n *outcome, keep bool) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if !keep {
		delete(o.byID, id)
		if n.err == nil { // post panicked: repeats must not take it for recorded
			n.err = fmt.Errorf("command %s: its handling broke off", id)
		}
	} else {
		o.order = append(o.order, id)
		if len(o.order) > remembered {
			delete(o.byID, o.order[0])
			o.order = o.order[1:]
		}
	}
	close(n.done)
}

// result is what came of a command; nil when it is not remembered.
func (o *outcomes) result(id string) *Result {
	o.mu.Lock()
	defer o.mu.Unlock()
	n, ok := o.byID[id]
	if !ok {
		return nil
	}
	select {
	case <-n.done:
		r := n.res
		return &r
	default:
		return nil
	}
}
