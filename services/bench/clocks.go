package bench

import (
	"context"
	"fmt"
	"runtime"
	"time"

	"seamwright/services/calc/cure"
)

// zoneOf makes the course of a bay with a day of readings.
func zoneOf() (*cure.Course, error) {
	c, err := cure.NewCourse(cure.Zone{
		Limits: cure.Set{Lo: 5, Hi: 35}, ProbeErrorC: 0.5, DriftPerMin: 0.2, StaleAfter: 15 * time.Minute,
	})
	if err != nil {
		return nil, err
	}
	for i := range 720 {
		if _, err := c.Append(cure.Reading{At: minute(2 * i), C: warm(i)}); err != nil {
			return nil, err
		}
	}
	return c, nil
}

var dayBegins = time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)

func minute(n int) time.Time { return dayBegins.Add(time.Duration(n) * time.Minute) }

// warm is a bay's air at the n-th reading.
func warm(n int) float64 { return 20 + float64(n%7)/10 }

// bank is a keeper with clocks, and where its readings have come to.
type bank struct {
	course *cure.Course
	keeper *cure.Keeper[uint64]
	law    cure.Law
	n      int // readings
	ids    uint64
}

func newBank() (*bank, error) {
	c, err := zoneOf()
	if err != nil {
		return nil, err
	}
	law, err := cure.DefaultLaw(21)
	return &bank{course: c, keeper: cure.NewKeeper[uint64](c), law: law, n: c.Len()}, err
}

// begin starts clocks, half of them on each side, that would fall due after
// so many seconds at the reference temperature.
func (b *bank) begin(n int, from func(i int) time.Time, amount func(i int) float64) error {
	for i := range n {
		b.ids++
		if err := b.keeper.Begin(b.ids, b.law, cure.Side(i%2), from(i), amount(i)); err != nil {
			return err
		}
	}
	return nil
}

// read takes in the next reading and looks at what it brings: what the cures
// service does for each. It gives how long that took in µs and how many fell
// due.
func (b *bank) read() (micros float64, due int, err error) {
	at := minute(2 * b.n)
	begun := time.Now()
	if _, err := b.course.Append(cure.Reading{At: at, C: warm(b.n)}); err != nil {
		return 0, 0, err
	}
	change := b.keeper.Advance(at)
	b.keeper.NextDue(at)
	micros = float64(time.Since(begun)) / float64(time.Microsecond)
	b.n++
	return micros, len(change.Fallen), nil
}

// never is an amount that no clock of these comes to.
const never = 1e9

// reading: what one reading costs with a million clocks and with a thousand.
func reading(_ context.Context, r *rig) ([]Figure, error) {
	many, few := pick(r, 1_000_000, 20_000), 1000
	large, err := full(many)
	if err != nil {
		return nil, err
	}
	small, err := full(few)
	if err != nil {
		return nil, err
	}
	each := pick(r, 200, 20)
	p, err := take(pick(r, 11, 3), small.typical(each), large.typical(each))
	if err != nil {
		return nil, err
	}
	f := Figure{Name: "reading", What: fmt.Sprintf("one reading with %s clocks begun before the last one, none due", thousands(many)), Unit: "µs"}
	f = f.against(fmt.Sprintf("with %s", thousands(few)), p, atMost(2))
	out := []Figure{f.judged(f.Ours, " µs", atMost(50))}
	cone, err := inCone(large, pick(r, 100_000, 2000))
	if err != nil {
		return nil, err
	}
	due, err := somePart(many, pick(r, 10_000, 200))
	if err != nil {
		return nil, err
	}
	return append(out, cone, due), nil
}

// full is a bank with clocks begun over the day before its last reading.
func full(n int) (*bank, error) {
	b, err := newBank()
	if err != nil {
		return nil, err
	}
	err = b.begin(n, func(i int) time.Time { return minute(i % 1400) }, func(i int) float64 { return never + float64(i) })
	if err != nil {
		return nil, err
	}
	_, _, err = b.read() // the first one settles what is new
	runtime.GC()
	return b, err
}

// typical is the median cost of a reading.
func (b *bank) typical(each int) func() (float64, error) {
	return func() (float64, error) {
		took := make([]float64, each)
		for i := range took {
			micros, due, err := b.read()
			if err != nil {
				return 0, err
			}
			if due != 0 {
				return 0, fmt.Errorf("%d clocks fell due, none should", due)
			}
			took[i] = micros
		}
		return median(took), nil
	}
}

// inCone begins clocks after the last reading and takes in the one that
// anchors them.
func inCone(b *bank, n int) (Figure, error) {
	last := minute(2 * (b.n - 1))
	if err := b.begin(n, func(i int) time.Time { return last.Add(time.Duration(i%110) * time.Second) }, func(i int) float64 { return never + float64(i) }); err != nil {
		return Figure{}, err
	}
	micros, _, err := b.read()
	return Figure{
		Name: "reading-cone", What: fmt.Sprintf("the reading that anchors %s clocks begun after the last one", thousands(n)),
		Unit: "µs", Ours: micros, Note: fmt.Sprintf("%.2f µs a clock", micros/float64(n)),
	}, err
}

// somePart takes in a reading at which some of many clocks fall due.
func somePart(n, part int) (Figure, error) {
	b, err := newBank()
	if err != nil {
		return Figure{}, err
	}
	// The cold side of these passes 60 s of age within the next two minutes at
	// about 20 °C; the rest never does.
	last := minute(2 * (b.n - 1))
	if err := b.begin(n-part, func(i int) time.Time { return minute(i % 1400) }, func(i int) float64 { return never + float64(i) }); err != nil {
		return Figure{}, err
	}
	for i := range part {
		b.ids++
		if err := b.keeper.Begin(b.ids, b.law, cure.Cold, last, 1+float64(i%600)/10); err != nil {
			return Figure{}, err
		}
	}
	micros, due, err := b.read()
	if err == nil && due != part {
		err = fmt.Errorf("%d of %d clocks fell due", due, part)
	}
	return Figure{
		Name: "reading-due", What: fmt.Sprintf("a reading at which 1 %% of %s clocks fall due", thousands(n)),
		Unit: "µs", Ours: micros, Note: fmt.Sprintf("%.2f µs a clock that fell due", micros/float64(part)),
	}, err
}

// thousands writes a count as people do.
func thousands(n int) string {
	if n < 1000 {
		return fmt.Sprint(n)
	}
	return fmt.Sprintf("%s,%03d", thousands(n/1000), n%1000)
}

func list(names []string) string {
	out := ""
	for i, n := range names {
		if i > 0 {
			out += ", "
		}
		out += n
	}
	return out
}
