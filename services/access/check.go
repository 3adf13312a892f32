package access

import (
	"context"
	"fmt"
	"slices"
	"sync"
	"time"

	"seamwright/services/fault"
	"seamwright/services/floor"
)

// The limits on guesses.
const (
	atOnce       = 2               // hashes at a time: each takes 64 MiB
	wrongPINs    = 5               // so many wrong PINs
	within       = 5 * time.Minute // in this time lock a name
	maxStrangers = 256             // unknown names whose guesses are remembered
)

// Shop is who works in a shop and at which terminals. Its methods may be
// called from many goroutines.
type Shop struct {
	list      []Person
	terminals []Terminal
	slots     chan struct{}

	mu        sync.Mutex
	people    map[string]*entry
	strangers map[string]*entry // names that nobody has: they lock as well, so that a lock tells nothing
}

// entry is one name and the guesses at its PIN that have not turned out right.
type entry struct {
	person  Person
	hash    pinHash
	guesses []time.Time
}

// People lists everybody in the order of the file.
func (s *Shop) People() []Person { return slices.Clone(s.list) }

// Terminals lists the terminals in the order of the file.
func (s *Shop) Terminals() []Terminal { return slices.Clone(s.terminals) }

// CanSign reports whether there is a foreman with a PIN: without one nobody
// overrides a gate or answers a stop.
func (s *Shop) CanSign() bool {
	return slices.ContainsFunc(s.list, func(p Person) bool {
		return p.Role == floor.Foreman && s.people[p.Name].hash.key != nil
	})
}

// Person finds somebody by name.
func (s *Shop) Person(name string) (Person, bool) {
	e, ok := s.people[name] // the map itself never changes after Parse
	if !ok {
		return Person{}, false
	}
	return e.person, true
}

// Check says who a name and a PIN are. A wrong PIN and an unknown name are
// denied in the same words after the same work; the sixth attempt within five
// minutes of five wrong ones is denied with the time at which to try again,
// without any work. The moment at is the process's clock's.
func (s *Shop) Check(ctx context.Context, name, pin string, at time.Time) (Person, error) {
	if err := checkPIN(pin); err != nil {
		return Person{}, err
	}
	e, err := s.reserve(name, at)
	if err != nil {
		return Person{}, err
	}
	select {
	case s.slots <- struct{}{}:
		defer func() { <-s.slots }()
	case <-ctx.Done():
		s.settle(e, at, true) // nothing was learned from it
		return Person{}, fault.Wrap(context.Cause(ctx), fault.Cancelled, "cancelled", "")
	}
	ok := e.hash.matches(pin)
	s.settle(e, at, ok)
	if !ok {
		return Person{}, fault.New(fault.Denied, "wrong-pin", "name and PIN do not go together",
			fmt.Sprintf("try again; after %d wrong ones in %s the name is locked for that long", wrongPINs, short(within)))
	}
	return e.person, nil
}

// reserve counts the attempt as a wrong one before its work begins, so that
// guesses made side by side count too.
func (s *Shop) reserve(name string, at time.Time) (*entry, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	e, ok := s.people[name]
	if !ok {
		e = s.stranger(name)
	}
	e.guesses = slices.DeleteFunc(e.guesses, func(g time.Time) bool { return !g.After(at.Add(-within)) })
	if len(e.guesses) >= wrongPINs {
		return nil, fault.New(fault.Denied, "pin-locked",
			fmt.Sprintf("%d wrong PINs in %s for this name, the limit is %d", len(e.guesses), short(within), wrongPINs),
			"try again at "+e.guesses[0].Add(within).UTC().Format(time.RFC3339)+", or ask a foreman to do it")
	}
	e.guesses = append(e.guesses, at)
	return e, nil
}

// stranger finds or makes the entry of a name that nobody has. When there
// are too many, the one whose last guess is oldest goes; the people's own
// entries are kept elsewhere and cannot be pushed out.
func (s *Shop) stranger(name string) *entry {
	if e, ok := s.strangers[name]; ok {
		return e
	}
	if len(s.strangers) >= maxStrangers {
		oldest := ""
		var when time.Time
		for n, e := range s.strangers {
			if l := e.last(); oldest == "" || l.Before(when) || l.Equal(when) && n < oldest {
				oldest, when = n, l
			}
		}
		delete(s.strangers, oldest)
	}
	// A salt of the usual length: the work must not differ.
	e := &entry{hash: pinHash{salt: make([]byte, saltBytes)}}
	s.strangers[name] = e
	return e
}

func (e *entry) last() time.Time {
	if len(e.guesses) == 0 {
		return time.Time{}
	}
	return e.guesses[len(e.guesses)-1]
}

// settle takes the reserved attempt back when it was not a wrong guess.
func (s *Shop) settle(e *entry, at time.Time, right bool) {
	if !right {
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if i := slices.IndexFunc(e.guesses, at.Equal); i >= 0 {
		e.guesses = slices.Delete(e.guesses, i, i+1)
	}
}

func short(d time.Duration) string { return fmt.Sprintf("%.0f minutes", d.Minutes()) }
