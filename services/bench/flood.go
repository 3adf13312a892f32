package bench

import (
	"context"
	"fmt"
	"sync"
	"time"

	"google.golang.org/grpc"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/fault"
	"seamwright/services/rpc"
)

// The flood: so many goroutines of one client that never wait, against so many
// clients that pause after each answer.
const (
	floodWorkers = 64
	polite       = 4
	politePause  = 5 * time.Millisecond
	floodName    = "flooder" // the flood's terminal
)

// flood: what the others notice of it, how the flooder is refused, and whether
// the gate still answers.
func flood(ctx context.Context, r *rig) (_ []Figure, err error) {
	s, err := newShop(ctx, r, "shop", false)
	if err != nil {
		return nil, err
	}
	defer func() {
		if e := s.stop(); err == nil {
			err = e
		}
	}()
	m := &floodMeasure{shop: s, span: pick(r, 2*time.Second, 200*time.Millisecond)}
	if err := m.connect(); err != nil {
		return nil, err
	}
	f, err := startFlooder(ctx, r, s.app.Addr().GRPC)
	if err != nil {
		return nil, err
	}
	defer f.end()
	p, err := take(pick(r, 9, 2),
		func() (float64, error) { return m.others(ctx) },
		func() (float64, error) {
			if err := f.say("go"); err != nil {
				return 0, err
			}
			p99, err := m.under(ctx)
			if stopped := f.say("stop"); err == nil {
				err = stopped
			}
			return p99, err
		})
	if err != nil {
		return nil, err
	}
	return m.figures(p, f.told)
}

// floodMeasure is what is measured while the flood is on and off.
type floodMeasure struct {
	shop    *shop
	span    time.Duration
	clients []jobsv1.JobsServiceClient
	tellers []*teller
	gate    boothv1.BoothServiceClient
	twin    jobsv1.JobsServiceClient // speaks for the flooder's terminal as well
	asTwin  *teller

	refusals []float64 // ms that the twin's refusals took
	gateMS   []float64 // ms that the gate's answers took during the flood
	gateShed int
}

func (m *floodMeasure) connect() error {
	for i := range polite {
		c, err := m.shop.dial()
		if err != nil {
			return err
		}
		m.clients, m.tellers = append(m.clients, jobsv1.NewJobsServiceClient(c)), append(m.tellers, newTeller("polite", i))
	}
	var conns [2]*grpc.ClientConn
	for i := range conns {
		var err error
		if conns[i], err = m.shop.dial(); err != nil {
			return err
		}
	}
	m.gate, m.twin = boothv1.NewBoothServiceClient(conns[0]), jobsv1.NewJobsServiceClient(conns[1])
	m.asTwin = newTeller("twin", 0)
	return nil
}

// others lets the polite clients post for a while and gives the 99th
// percentile of their answers, in ms.
func (m *floodMeasure) others(ctx context.Context) (float64, error) {
	took := make([][]float64, polite)
	errs := make([]error, polite)
	var all sync.WaitGroup
	begun := time.Now()
	for i := range polite {
		all.Go(func() {
			for errs[i] == nil && time.Since(begun) < m.span {
				var ms float64
				ms, errs[i] = timed(func() error {
					_, err := m.clients[i].Record(ctx, request(m.tellers[i].command(m.tellers[i].next())))
					return err
				})
				took[i] = append(took[i], ms)
				pause(ctx, politePause)
			}
		})
	}
	all.Wait()
	var every []float64
	for i := range polite {
		if errs[i] != nil {
			return 0, errs[i]
		}
		every = append(every, took[i]...)
	}
	return quantile(every, 0.99), nil
}

// under is others while the flood is on, with the gate and a twin of the
// flooder's terminal beside them.
func (m *floodMeasure) under(ctx context.Context) (float64, error) {
	during, cancel := context.WithCancel(ctx)
	var beside sync.WaitGroup
	beside.Go(func() { m.askGate(during) })
	beside.Go(func() { m.callAsTwin(during) })
	p99, err := m.others(ctx)
	cancel()
	beside.Wait()
	return p99, err
}

// askGate asks for the gate's state and tells it a sign of life, now and then.
func (m *floodMeasure) askGate(ctx context.Context) {
	for ctx.Err() == nil {
		for _, call := range []func() error{
			func() error {
				_, err := m.gate.GetGate(ctx, &boothv1.GetGateRequest{BoothId: boothID})
				return err
			},
			func() error {
				_, err := m.gate.Hear(ctx, &boothv1.HearRequest{Terminal: floodName})
				return err
			},
		} {
			ms, err := timed(call)
			switch {
			case ctx.Err() != nil:
			case err != nil:
				m.gateShed++
			default:
				m.gateMS = append(m.gateMS, ms)
			}
		}
		pause(ctx, 4*politePause)
	}
}

// callAsTwin calls in the flooder's name from this process, so that how fast a
// refusal comes is not told by the flooder, which has little processor time.
func (m *floodMeasure) callAsTwin(ctx context.Context) {
	for ctx.Err() == nil {
		c := m.asTwin.command(m.asTwin.next())
		c.Stamp.Terminal = floodName
		ms, err := timed(func() error {
			_, err := m.twin.Record(ctx, request(c))
			return err
		})
		if fault.Is(err, rpc.ReasonTooManyCalls) {
			m.refusals = append(m.refusals, ms)
		}
		pause(ctx, 2*politePause)
	}
}

// figures are what came of it. A run in which nobody was refused, or the
// flooder got anything but receipts and clear refusals, measured no flood.
func (m *floodMeasure) figures(p pairs, told floodReport) ([]Figure, error) {
	if told.Answered == 0 || told.Refused == 0 || len(m.refusals) == 0 || len(m.gateMS) == 0 {
		return nil, fault.New(fault.Unavailable, "no-flood",
			fmt.Sprintf("flood: %d answered, %d refused, %d of its twin; %d answers of the gate: too few to say anything", told.Answered, told.Refused, len(m.refusals), len(m.gateMS)),
			"measure again on a machine that is less busy")
	}
	others := Figure{
		Name: "flood", What: fmt.Sprintf("%d clients while another floods from %d goroutines, 99th percentile", polite, floodWorkers), Unit: "ms",
		Note: fmt.Sprintf("flood: %d answered, %d refused", told.Answered, told.Refused),
	}
	refused := Figure{Name: "flood-refusal", What: "a refusal for too many calls, 99th percentile", Unit: "ms", Ours: quantile(m.refusals, 0.99)}
	if told.Unclear > 0 {
		refused.Note = fmt.Sprintf("%d answers to the flooder were neither a receipt nor a clear refusal: %s", told.Unclear, told.Example)
	}
	clear := Figure{Name: "flood-unclear", What: "answers to the flooder that are neither a receipt nor a clear refusal", Ours: float64(told.Unclear)}
	gate := Figure{
		Name: "flood-gate", What: "calls to the gate during the flood that were not answered", Ours: float64(m.gateShed),
		Note: fmt.Sprintf("%d answered, 99th percentile %.2f ms", len(m.gateMS), quantile(m.gateMS, 0.99)),
	}
	return []Figure{
		others.against("quiet", p, atMost(2)), refused.judged(refused.Ours, " ms", atMost(refusedWithin)),
		clear.judged(clear.Ours, "", atMost(0)), gate.judged(gate.Ours, "", atMost(0)),
	}, nil
}

// refusedWithin is what counts as at once, in ms: sooner than a person
// notices.
const refusedWithin = 50

// pause waits, or until the context ends.
func pause(ctx context.Context, d time.Duration) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
	case <-ctx.Done():
	}
}
