package clock

import (
	"fmt"
	"sync"
	"time"

	"seamwright/services/fault"
)

// Clock tells the moment. A process has one, made where it is wired.
type Clock interface {
	Now() time.Time
}

// Wall is the clock of the machine, in UTC and without a monotonic part, so
// that its moments compare as those read back from the journal do.
type Wall struct{}

// Now is the machine's time of day.
func (Wall) Now() time.Time { return time.Now().UTC().Round(0) }

// Driven is a clock that stands still until it is moved. Many goroutines may
// read it while one moves it.
type Driven struct {
	mu  sync.RWMutex
	now time.Time
}

// NewDriven makes a clock that stands at a moment.
func NewDriven(at time.Time) *Driven { return &Driven{now: at.UTC().Round(0)} }

// Now is where the clock stands.
func (d *Driven) Now() time.Time {
	d.mu.RLock()
	defer d.mu.RUnlock()
	return d.now
}

// Set moves the clock to a moment, which must not lie before where it
// stands: an invalid fault otherwise, and the clock stays.
func (d *Driven) Set(at time.Time) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if at.Before(d.now) {
		return fault.Bad("clock", at.UTC().Format(time.RFC3339Nano),
			fmt.Sprintf("not before %s, where it stands; time only goes on", d.now.Format(time.RFC3339Nano)))
	}
	d.now = at.UTC().Round(0)
	return nil
}

// Turn sets the clock by a length of time, also back, as somebody does who
// sets the time of a machine. It is for exercises.
func (d *Driven) Turn(by time.Duration) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.now = d.now.Add(by)
}

// Advance moves the clock on by a length of time, not below zero.
func (d *Driven) Advance(by time.Duration) error {
	if by < 0 {
		return fault.Bad("clock", by, "at least 0s; time only goes on")
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.now = d.now.Add(by)
	return nil
}
