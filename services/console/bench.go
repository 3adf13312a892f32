package console

import (
	"context"
	"fmt"
	"io"
	"os"
	"runtime"
	"strings"

	"seamwright/services/bench"
	"seamwright/services/calc/quantity"
	"seamwright/services/fault"
)

// Bench measures how fast a shop is on this machine, against bare JetStream
// on the same disk.
type Bench struct {
	Quick    bool   // few samples, nothing is judged
	Only     string // names of measurements, separated by commas; empty: all
	Dir      string // folder on the disk that is measured; empty: that of temporary files
	Progress io.Writer
}

type benchFigures struct {
	Figures []benchFigure `json:"figures"`
	Quick   bool          `json:"quick"`
	CPUs    int           `json:"cpus"`
	Go      string        `json:"go"`
	TookS   float64       `json:"took_s"`
}

// benchFigure is one line of the table. What is null was not compared, or not
// judged.
type benchFigure struct {
	Name    string   `json:"name"`
	What    string   `json:"what"`
	Unit    string   `json:"unit"`
	Ours    float64  `json:"ours"`
	Against string   `json:"against"`
	Raw     *float64 `json:"raw"`
	Versus  *float64 `json:"versus"` // ours to raw as the target wants it: a ratio, or a difference
	Target  string   `json:"target"`
	Met     *bool    `json:"met"`
	Note    string   `json:"note"`
}

// Run measures and tells the table.
func (q Bench) Run(ctx context.Context, o Out) error {
	program, err := os.Executable()
	if err != nil {
		return fault.Wrap(err, fault.Unavailable, "program", "the program's own file is not found; install it again")
	}
	opt := bench.Options{Quick: q.Quick, Dir: q.Dir, Program: program}
	if q.Only != "" {
		opt.Only = strings.Split(q.Only, ",")
	}
	if q.Progress != nil {
		opt.Say = func(name string) { fmt.Fprintln(q.Progress, "measuring", name) }
	}
	r, err := bench.Run(ctx, opt)
	if err != nil {
		return err
	}
	out := benchFigures{Figures: []benchFigure{}, Quick: q.Quick, CPUs: r.CPUs, Go: runtime.Version(), TookS: r.Took.Seconds()}
	for _, f := range r.Figures {
		out.Figures = append(out.Figures, benchFigure(f))
	}
	return o.put(out)
}

// Lines is the table.
func (a benchFigures) Lines() []string {
	rows := [][]string{{"figure", "ours", "raw", "ratio", "target", "met"}}
	var notes []string
	for _, f := range a.Figures {
		row := []string{f.What, figure(f.Ours) + " " + f.Unit, "", "", f.Target, "told"}
		if f.Raw != nil {
			row[2] = figure(*f.Raw) + " " + f.Unit
			row[3] = figure(*f.Versus)
		}
		switch {
		case f.Met != nil && *f.Met:
			row[5] = "yes"
		case f.Met != nil:
			row[5] = "NO"
		case a.Quick && f.Target != "":
			row[5] = "quick"
		}
		rows = append(rows, row)
		if f.Note != "" {
			notes = append(notes, f.What+": "+f.Note)
		}
	}
	out := append(table(rows), "")
	out = append(out, notes...)
	out = append(out, fmt.Sprintf("%d processors, %s, %s s; raw is bare JetStream with the same settings on the same disk, or what the figure names",
		a.CPUs, a.Go, quantity.Round(a.TookS, 0)))
	if a.Quick {
		out = append(out, "A quick run: few samples, nothing is judged.")
	}
	return out
}

// figure writes a number with three digits that count.
func figure(x float64) string {
	switch {
	case x >= 100 || x <= -100:
		return quantity.Round(x, 0)
	case x >= 10 || x <= -10:
		return quantity.Round(x, 1)
	}
	return quantity.Round(x, 2)
}

// BenchFlood is the flooding client of a measurement, a process of its own.
type BenchFlood struct {
	Address string
	In      io.Reader
}

// Run floods as it is told on its input.
func (q BenchFlood) Run(ctx context.Context, o Out) error {
	if q.Address == "" {
		return missing("--address", "the address of the shop that is measured")
	}
	return bench.Flood(ctx, q.Address, q.In, o.W)
}
