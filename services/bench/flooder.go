package bench

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os/exec"
	"strings"
	"sync"
	"syscall"

	"google.golang.org/grpc"

	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/fault"
	"seamwright/services/rpc"
)

// floodReport is what a flooder says of its calls.
type floodReport struct {
	Answered int    `json:"answered"`
	Refused  int    `json:"refused"` // clearly, for too many calls
	Unclear  int    `json:"unclear"` // anything else
	Example  string `json:"example,omitempty"`
}

func (r *floodReport) add(o floodReport) {
	r.Answered += o.Answered
	r.Refused += o.Refused
	r.Unclear += o.Unclear
	if r.Example == "" {
		r.Example = o.Example
	}
}

// Flood is the flooding client, in a process of its own at the lowest
// priority. It floods the shop at an address from the line "go" on its input
// until the line "stop", and then says as JSON what became of its calls; it
// ends with its input.
func Flood(ctx context.Context, addr string, in io.Reader, out io.Writer) error {
	if err := syscall.Setpriority(syscall.PRIO_PROCESS, 0, 19); err != nil {
		return fault.Wrap(err, fault.Unavailable, "priority", "the flood must not take the shop's processors")
	}
	conn, err := rpc.Dial(addr)
	if err != nil {
		return err
	}
	defer conn.Close()
	workers := make([]*floodWorker, floodWorkers)
	for i := range workers {
		workers[i] = &floodWorker{teller: newTeller("flood", i)}
	}
	stop := func() floodReport { return floodReport{} }
	defer func() { stop() }()
	for lines := bufio.NewScanner(in); lines.Scan(); {
		switch lines.Text() {
		case "go":
			stop = pour(ctx, conn, workers)
			_, err = fmt.Fprintln(out, "{}")
		case "stop":
			err = json.NewEncoder(out).Encode(stop())
			stop = func() floodReport { return floodReport{} }
		default:
			err = fault.Bad("line", fmt.Sprintf("%.40q", lines.Text()), "go or stop")
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// floodWorker is one goroutine of the flood. A command that has no answer yet
// is told first when the flood goes on.
type floodWorker struct {
	*teller
	pending *jobsv1.RecordRequest
	report  floodReport
}

// pour floods until it is stopped: every worker calls again as soon as it has
// its answer. One that is refused sends the same command again.
func pour(ctx context.Context, conn *grpc.ClientConn, workers []*floodWorker) (stop func() floodReport) {
	ctx, cancel := context.WithCancel(ctx)
	client := jobsv1.NewJobsServiceClient(conn)
	var all sync.WaitGroup
	for _, w := range workers {
		w.report = floodReport{}
		all.Go(func() {
			for ctx.Err() == nil {
				w.call(ctx, client)
			}
		})
	}
	return func() floodReport {
		cancel()
		all.Wait()
		sum := floodReport{}
		for _, w := range workers {
			sum.add(w.report)
		}
		return sum
	}
}

// call sends the pending command, or the next one.
func (w *floodWorker) call(ctx context.Context, client jobsv1.JobsServiceClient) {
	if w.pending == nil {
		c := w.command(w.next())
		c.Stamp.Terminal = floodName
		w.pending = request(c)
	}
	_, err := client.Record(ctx, w.pending)
	if ctx.Err() == nil && !w.report.note(err) {
		w.pending = nil
	}
}

// note counts an answer and reports whether the command is to be sent again.
func (r *floodReport) note(err error) (again bool) {
	switch {
	case err == nil:
		r.Answered++
		return false
	case fault.Is(err, rpc.ReasonTooManyCalls) && strings.Contains(err.Error(), "same command id"):
		r.Refused++
		return true
	}
	r.Unclear++
	r.Example = err.Error()
	return false
}

// flooder is the flooding process as the measurement sees it.
type flooder struct {
	process *exec.Cmd
	in      io.WriteCloser
	out     *bufio.Reader
	says    strings.Builder
	told    floodReport
}

func startFlooder(ctx context.Context, r *rig, addr string) (*flooder, error) {
	f := &flooder{process: exec.CommandContext(ctx, r.Program, "bench", "flood", "--address", addr)}
	f.process.Stderr = &f.says
	var err error
	if f.in, err = f.process.StdinPipe(); err != nil {
		return nil, err
	}
	out, err := f.process.StdoutPipe()
	if err != nil {
		return nil, err
	}
	f.out = bufio.NewReader(out)
	if err := f.process.Start(); err != nil {
		return nil, fault.Wrap(err, fault.Unavailable, "program", "see that the program's own file can be run")
	}
	return f, nil
}

// say sends a line and takes in the answer.
func (f *flooder) say(line string) error {
	if _, err := fmt.Fprintln(f.in, line); err != nil {
		return fault.Wrap(err, fault.Unavailable, "flooder", "the flooding process ended: "+f.says.String())
	}
	answer, err := f.out.ReadBytes('\n')
	if err != nil {
		return fault.Wrap(err, fault.Unavailable, "flooder", "the flooding process ended: "+f.says.String())
	}
	var r floodReport
	if err := json.Unmarshal(answer, &r); err != nil {
		return fault.Wrap(err, fault.Internal, "flooder", "")
	}
	f.told.add(r)
	return nil
}

// end closes the process's input, with which it ends, and waits for it.
func (f *flooder) end() {
	_ = f.in.Close()
	_ = f.process.Wait()
}
