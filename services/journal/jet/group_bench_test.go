package jet_test

import (
	"context"
	"fmt"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/wrapperspb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/floor"
	"seamwright/services/journal"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/journaltest"
)

// BenchmarkGroup is how many durable events a second many appenders get out
// of one writer, by the rate of one raw synced publisher beside them: both
// run in turn, and the median of the ratios is reported. The events go
// through the journal with its proof and are folded by the real floor, or by
// a fold that only keeps them. Let it run once: -benchtime 1x.
func BenchmarkGroup(b *testing.B) {
	for _, fold := range []string{"floor", "plain"} {
		for _, appenders := range []int{8, 64, 256} {
			b.Run(fmt.Sprintf("%s/appenders=%d", fold, appenders), func(b *testing.B) {
				raw := rawPublisher(b)
				k := &tallied{Journal: keeper(b)}
				var w *journal.Writer
				var next func(worker, n int) journal.Decide
				if fold == "floor" {
					w, next = floorWork(b, k, appenders)
				} else {
					w, next = plainWork(k)
				}
				ctx, cancel := context.WithCancel(b.Context())
				defer cancel()
				go func() { _ = w.Run(ctx) }()
				var ratios, rates []float64
				told := make([]int, appenders)
				k.appends, k.records = 0, 0
				for b.Loop() {
					for range 5 {
						one := perSecond(1, func(int) error { return raw() })
						all := perSecond(appenders, func(i int) error {
							told[i]++
							_, err := w.Do(ctx, next(i, told[i]))
							return err
						})
						ratios, rates = append(ratios, all/one), append(rates, all)
					}
				}
				slices.Sort(ratios)
				slices.Sort(rates)
				b.ReportMetric(rates[len(rates)/2], "events/s")
				b.ReportMetric(ratios[len(ratios)/2], "x-raw")
				b.ReportMetric(float64(k.records)/float64(k.appends), "events/append")
			})
		}
	}
}

// tallied counts what is appended. The writer appends one at a time.
type tallied struct {
	journal.Journal
	appends, records int
}

func (k *tallied) Append(ctx context.Context, expect uint64, recs ...journal.Record) (uint64, error) {
	k.appends++
	k.records += len(recs)
	return k.Journal.Append(ctx, expect, recs...)
}

// perSecond runs workers side by side for a while and gives their rate.
func perSecond(workers int, do func(worker int) error) float64 {
	const long = 700 * time.Millisecond
	var n atomic.Int64
	var wg sync.WaitGroup
	begun := time.Now()
	for i := range workers {
		wg.Go(func() {
			for time.Since(begun) < long {
				if err := do(i); err != nil {
					panic(err)
				}
				n.Add(1)
			}
		})
	}
	wg.Wait()
	return float64(n.Load()) / time.Since(begun).Seconds()
}

// rawPublisher publishes to a stream of its own, set up as a shop's is.
func rawPublisher(b *testing.B) func() error {
	s := newShop(b, jet.Options{})
	s.open(b)
	js, err := jetstream.New(s.connect(b))
	if err != nil {
		b.Fatal(err)
	}
	payload, n := make([]byte, 200), 0
	return func() error {
		n++
		m := nats.NewMsg("shop.demo.seam.2207.roof")
		m.Data = payload
		_, err := js.PublishMsg(b.Context(), m, jetstream.WithMsgID(fmt.Sprint(n)))
		return err
	}
}

func plainWork(j journal.Journal) (*journal.Writer, func(worker, n int) journal.Decide) {
	return journal.NewWriter(j, journaltest.NewFold()), func(worker, n int) journal.Decide {
		return func(uint64) ([]floor.Event, error) {
			e := journaltest.Event(fmt.Sprintf("%d-%d", worker, n), 1)
			e.Aggregate = fmt.Sprintf("seam.%d.roof", worker)
			e.Body = wrapperspb.Bytes(make([]byte, 200))
			return []floor.Event{e}, nil
		}
	}
}

// seamsEach is how many seams each appender works on, in turn, so that no
// seam comes to have more facts than one in a shop.
const seamsEach = 32

// floorWork is real facts of jobs and seams of each appender's own.
func floorWork(b *testing.B, j journal.Journal, appenders int) (*journal.Writer, func(worker, n int) journal.Decide) {
	f := floor.New()
	w := journal.NewWriter(j, f)
	now := time.Date(2026, 3, 2, 7, 30, 0, 0, time.UTC)
	begun := time.Now()
	decide := func(id string, bodies ...proto.Message) journal.Decide {
		return func(uint64) (out []floor.Event, err error) {
			for i, body := range bodies {
				ev, err := f.Decide(floor.Command{Body: body, Stamp: &floorv1.Stamp{
					CommandId: fmt.Sprintf("%s-%d", id, i), Actor: "Robin", Role: floorv1.Role_ROLE_TECHNICIAN, Terminal: "tab-1",
					Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
				}}, now.Add(time.Since(begun)))
				if err != nil {
					return nil, err
				}
				out = append(out, ev)
			}
			return out, nil
		}
	}
	seam := func(worker, n int) string { return fmt.Sprintf("J%d/s%d", worker, n%seamsEach) }
	for i := range appenders {
		surveys := []proto.Message{}
		for n := range seamsEach {
			surveys = append(surveys, &jobsv1.SeamSurveyed{SeamId: seam(i, n), Panel: "door", Place: "hem", Finish: floorv1.Finish_FINISH_COATED, Substrate: floorv1.Substrate_SUBSTRATE_E_COAT})
		}
		for _, d := range []journal.Decide{decide(fmt.Sprint("job", i), &jobsv1.JobOpened{Ro: fmt.Sprint("J", i), Vehicle: "van"}), decide(fmt.Sprint("seams", i), surveys...)} {
			if _, err := w.Do(b.Context(), d); err != nil {
				b.Fatal(err)
			}
		}
	}
	return w, func(worker, n int) journal.Decide {
		id := fmt.Sprintf("%d-%d", worker, n)
		switch n % 4 {
		case 0:
			return decide(id, &jobsv1.SurfacePrepped{SeamId: seam(worker, n/4), Substrate: floorv1.Substrate_SUBSTRATE_E_COAT})
		case 1:
			return decide(id, &jobsv1.SeamInspected{SeamId: seam(worker, n/4), Note: "the bead runs true"})
		}
		return decide(id, &jobsv1.PhotoAttached{SeamId: seam(worker, n/4), Sha256: fmt.Sprintf("%064d", n), MediaType: "image/jpeg"})
	}
}
