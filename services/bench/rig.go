package bench

import (
	"context"
	"log/slog"
	"os"
	"runtime"
	"time"

	"seamwright/services/fault"
)

// Options of a run.
type Options struct {
	Quick   bool     // few samples, nothing is judged
	Dir     string   // folder on the disk that is measured; the system's own for temporary files if empty
	Only    []string // names of measurements; empty: all
	Program string   // the program itself, for what is measured in a process of its own
	Say     func(string)
	Log     *slog.Logger
}

// Result is what a run came to.
type Result struct {
	Figures []Figure
	CPUs    int
	Took    time.Duration
}

// rig is what the measurements share.
type rig struct {
	Options
	dir string // temporary, this run's own
	log *slog.Logger
}

// measurement makes one or more figures.
type measurement struct {
	name string
	run  func(context.Context, *rig) ([]Figure, error)
}

var measurements = []measurement{
	{"post-to-ack", postToAck},
	{"appenders", appenders},
	{"posters", posters},
	{"post-to-screen", postToScreen},
	{"reading", reading},
	{"clock-memory", clockMemory},
	{"replay", replay},
	{"start", start},
	{"flood", flood},
}

// Names lists the measurements.
func Names() []string {
	out := make([]string, len(measurements))
	for i, m := range measurements {
		out[i] = m.name
	}
	return out
}

// Run measures. A name that no measurement has is an invalid fault.
func Run(ctx context.Context, o Options) (Result, error) {
	begun := time.Now()
	chosen, err := choose(o.Only)
	if err != nil {
		return Result{}, err
	}
	if o.Say == nil {
		o.Say = func(string) {}
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	out := Result{CPUs: runtime.NumCPU()}
	for _, m := range chosen {
		o.Say(m.name)
		figures, err := one(ctx, o, m)
		if err != nil {
			return out, err
		}
		out.Figures = append(out.Figures, figures...)
	}
	out.Took = time.Since(begun)
	return out, nil
}

func choose(only []string) ([]measurement, error) {
	if len(only) == 0 {
		return measurements, nil
	}
	var out []measurement
	for _, name := range only {
		found := false
		for _, m := range measurements {
			if m.name == name {
				out, found = append(out, m), true
			}
		}
		if !found {
			return nil, fault.Bad("measurement", name, "one of "+list(Names()))
		}
	}
	return out, nil
}

// one runs a measurement in a folder of its own, with the heap of the one
// before swept.
func one(ctx context.Context, o Options, m measurement) (_ []Figure, err error) {
	dir, err := os.MkdirTemp(o.Dir, "seamwright-bench-")
	if err != nil {
		return nil, fault.Wrap(err, fault.Unavailable, "bench-folder", "name a folder that can be written to")
	}
	defer os.RemoveAll(dir)
	runtime.GC()
	figures, err := m.run(ctx, &rig{Options: o, dir: dir, log: o.Log})
	if err != nil {
		return nil, err
	}
	if o.Quick {
		for i := range figures {
			figures[i].Met = nil
		}
	}
	return figures, nil
}

// pick gives the value for a whole or a quick run.
func pick[T any](r *rig, whole, quick T) T {
	if r.Quick {
		return quick
	}
	return whole
}
