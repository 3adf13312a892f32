// Package published reads the published benchmark instances that package plan
// is measured by, and plans them by the two rules of thumb that a shop would
// use without a plan.
//
// The formats are described, with where they come from, in the SOURCE.md
// beside the instances under testdata/benchmarks.
package published

import (
	"fmt"
	"strconv"
	"strings"

	"seamwright/services/calc/plan"
	"seamwright/services/fault"
)

// numbers reads whole numbers between white space.
func numbers(name, text string) ([]int64, error) {
	var out []int64
	for _, f := range strings.Fields(text) {
		x, err := strconv.ParseInt(f, 10, 64)
		if err != nil {
			return nil, fault.Bad(name, f, "a whole number")
		}
		out = append(out, x)
	}
	return out, nil
}

// WeightedTardiness reads instances of n jobs: lengths, weights, due dates,
// one instance after the other, and as many best values. For each instance
// one value is given.
func WeightedTardiness(n int, instances, best string) ([]plan.Single, []float64, error) {
	v, err := numbers("instances", instances)
	if err != nil {
		return nil, nil, err
	}
	b, err := numbers("best values", best)
	if err != nil {
		return nil, nil, err
	}
	if n < 1 || len(v) != 3*n*len(b) {
		return nil, nil, fault.Bad("instances", len(v), fmt.Sprintf("3 times %d numbers for each of %d best values", n, len(b)))
	}
	out := make([]plan.Single, len(b))
	values := make([]float64, len(b))
	for k := range b {
		q := v[3*n*k : 3*n*(k+1)]
		values[k] = float64(b[k])
		out[k] = plan.Single{Process: q[:n], Due: q[2*n:], Weight: make([]float64, n)}
		for j, w := range q[n : 2*n] {
			out[k].Weight[j] = float64(w)
		}
	}
	return out, values, nil
}

// Setups reads one instance with setups: sections of numbers, a line each,
// then lines "from to setup" with -1 for the start.
func Setups(text string) (plan.Single, error) {
	var s plan.Single
	section := ""
	for i, l := range strings.Split(text, "\n") {
		l = strings.TrimSpace(l)
		if strings.HasSuffix(l, ":") {
			section = l
			continue
		}
		var to *[]int64
		switch section {
		case "Process Times:":
			to = &s.Process
		case "Duedates:":
			to = &s.Due
		case "Weights:", "Setup Times:":
		default:
			continue
		}
		if l == "" || strings.HasPrefix(l, "End") {
			continue
		}
		v, err := numbers(fmt.Sprintf("line %d", i+1), l)
		if err != nil {
			return s, err
		}
		switch {
		case to != nil && len(v) == 1:
			*to = append(*to, v[0])
		case section == "Weights:" && len(v) == 1:
			s.Weight = append(s.Weight, float64(v[0]))
		case section == "Setup Times:" && len(v) == 3:
			if err := addSetup(&s, v); err != nil {
				return s, err
			}
		default:
			return s, fault.Bad(fmt.Sprintf("line %d", i+1), l, "the numbers of section "+section)
		}
	}
	return s, nil
}

func addSetup(s *plan.Single, v []int64) error {
	n := len(s.Process)
	if s.Setup == nil {
		s.Setup = make([][]int64, n+1)
		for i := range s.Setup {
			s.Setup[i] = make([]int64, n)
		}
	}
	from := int(v[0])
	if from == -1 {
		from = n
	}
	if from < 0 || from > n || v[1] < 0 || v[1] >= int64(n) {
		return fault.Bad("setup", v, "between jobs of the instance")
	}
	s.Setup[from][v[1]] = v[2]
	return nil
}

// Best is a cost found and the order that gives it.
type Best struct {
	Instance string
	Cost     float64
	Order    []int
}

// Orders reads "instance,cost,order" with a header.
func Orders(text string) ([]Best, error) {
	var out []Best
	for i, l := range strings.Split(strings.TrimSpace(text), "\n")[1:] {
		f := strings.Split(strings.TrimSpace(l), ",")
		if len(f) != 3 {
			return nil, fault.Bad(fmt.Sprintf("line %d", i+2), l, "instance,cost,order")
		}
		v, err := numbers(fmt.Sprintf("line %d", i+2), f[1]+" "+f[2])
		if err != nil {
			return nil, err
		}
		b := Best{Instance: f[0], Cost: float64(v[0])}
		for _, j := range v[1:] {
			b.Order = append(b.Order, int(j))
		}
		out = append(out, b)
	}
	return out, nil
}

// Project reads one project with least and greatest lags.
func Project(text string) (plan.Project, error) {
	var p plan.Project
	lines := strings.Split(strings.TrimSpace(text), "\n")
	row := func(k int) ([]int64, error) {
		if k >= len(lines) {
			return nil, fault.Bad(fmt.Sprintf("line %d", k+1), "missing", "more lines")
		}
		return numbers(fmt.Sprintf("line %d", k+1), strings.NewReplacer("[", " ", "]", " ").Replace(lines[k]))
	}
	head, err := row(0)
	if err != nil {
		return p, err
	}
	if len(head) < 2 || head[0] < 0 || head[0] > 1000 {
		return p, fault.Bad("line 1", lines[0], "the number of activities and of resources")
	}
	n := int(head[0]) + 2
	for i := range n {
		v, err := row(1 + i)
		if err != nil {
			return p, err
		}
		if len(v) < 3 || v[2] < 0 || int64(len(v)) != 3+2*v[2] {
			return p, fault.Bad(fmt.Sprintf("line %d", 2+i), lines[1+i], "i 1 k, k successors, k lags")
		}
		k := int(v[2])
		for x := range k {
			p.Lags = append(p.Lags, plan.Lag{From: i, To: int(v[3+x]), Least: v[3+k+x]})
		}
	}
	for i := range n {
		v, err := row(1 + n + i)
		if err != nil {
			return p, err
		}
		if int64(len(v)) != 3+head[1] {
			return p, fault.Bad(fmt.Sprintf("line %d", 2+n+i), lines[1+n+i], "i 1 length and a need for each resource")
		}
		p.Length = append(p.Length, v[2])
		p.Need = append(p.Need, whole(v[3:]))
	}
	v, err := row(1 + 2*n)
	p.Have = whole(v)
	return p, err
}

func whole(v []int64) []int {
	out := make([]int, len(v))
	for i, x := range v {
		out[i] = int(x)
	}
	return out
}

// Optimum is what is known of a project: its shortest makespan, or that it
// cannot be done.
type Optimum struct {
	File     string
	Makespan int64
	None     bool
}

// Optima reads "file,optimum" with a header; what is not settled is left out.
func Optima(text string) ([]Optimum, error) {
	var out []Optimum
	for i, l := range strings.Split(strings.TrimSpace(text), "\n")[1:] {
		file, value, _ := strings.Cut(strings.TrimSpace(l), ",")
		o := Optimum{File: file, None: value == "unsat"}
		if strings.Contains(value, "..") {
			continue
		}
		if !o.None {
			v, err := numbers(fmt.Sprintf("line %d", i+2), value)
			if err != nil || len(v) != 1 {
				return nil, fault.Bad(fmt.Sprintf("line %d", i+2), l, "file,optimum")
			}
			o.Makespan = v[0]
		}
		out = append(out, o)
	}
	return out, nil
}
