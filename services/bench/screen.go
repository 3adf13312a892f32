package bench

import (
	"bufio"
	"context"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/fault"
)

// postToScreen: from a post over gRPC until a watcher of the wall board has
// its changed row, against a publish until a consumer has the message.
func postToScreen(ctx context.Context, r *rig) (_ []Figure, err error) {
	rec, err := sample()
	if err != nil {
		return nil, err
	}
	b, err := newBare(ctx, r, rec)
	if err != nil {
		return nil, err
	}
	defer b.stop()
	ids, unfollow, err := b.follow(ctx)
	if err != nil {
		return nil, err
	}
	defer unfollow()
	s, err := newShop(ctx, r, "shop", true)
	if err != nil {
		return nil, err
	}
	defer func() {
		if e := s.stop(); err == nil {
			err = e
		}
	}()
	ctx, cancel := context.WithCancel(ctx) // ends the stream before the shop
	defer cancel()
	w, err := watchBoard(ctx, s.app.Addr().Screens)
	if err != nil {
		return nil, err
	}
	conn, err := s.dial()
	if err != nil {
		return nil, err
	}
	client, cars := jobsv1.NewJobsServiceClient(conn), &visitor{}
	each := pick(r, 200, 10)
	p, err := take(pick(r, 5, 2),
		func() (float64, error) {
			return tail(each, func() error {
				if err := b.publish(ctx); err != nil {
					return err
				}
				<-ids
				return nil
			})
		},
		func() (float64, error) {
			return tail(each, func() error {
				resp, err := client.Record(ctx, cars.next())
				if err != nil {
					return err
				}
				return w.seen(ctx, resp.GetReceipt().GetSequence())
			})
		})
	if err != nil {
		return nil, err
	}
	f := Figure{Name: "post-to-screen", What: "post to server-sent event with the changed row, 99th percentile", Unit: "ms"}
	return []Figure{f.apart("publish to subscriber", p, atMost(10))}, nil
}

// tail is the 99th percentile of so many runs, in ms.
func tail(times int, one func() error) (float64, error) {
	took := make([]float64, times)
	for i := range took {
		var err error
		if took[i], err = timed(one); err != nil {
			return 0, err
		}
	}
	return quantile(took, 0.99), nil
}

// visitor opens a job and cancels it again, so that a row comes and goes and
// the board stays as long as it was.
type visitor struct{ n int }

func (v *visitor) next() *jobsv1.RecordRequest {
	ro := fmt.Sprint("visitor-", v.n/2)
	r := &jobsv1.RecordRequest{Stamp: stamp("desk", fmt.Sprintf("visitor-command-%06d", v.n))}
	if v.n++; v.n%2 == 1 {
		r.Fact = &jobsv1.RecordRequest_JobOpened{JobOpened: &jobsv1.JobOpened{Ro: ro, Vehicle: "grey van"}}
	} else {
		r.Fact = &jobsv1.RecordRequest_JobCancelled{JobCancelled: &jobsv1.JobCancelled{Ro: ro, Why: "the owner drove on"}}
	}
	return r
}

// watcher is a reader of the board's stream.
type watcher struct {
	rows chan uint64 // the sequence of each event that changed a part of the page
	err  chan error
}

// watchBoard opens the stream as a browser does that has just loaded the page,
// and returns when its first picture has come.
func watchBoard(ctx context.Context, addr string) (*watcher, error) {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+addr+"/events?page=board&viewer=bench", nil)
	if err != nil {
		return nil, err
	}
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		return nil, fault.Wrap(err, fault.Unavailable, "screens", "see that the screens are served")
	}
	if resp.StatusCode != http.StatusOK {
		_ = resp.Body.Close()
		return nil, fault.New(fault.Unavailable, "screens", "the stream of the board answers "+resp.Status, "")
	}
	w := &watcher{rows: make(chan uint64, 4096), err: make(chan error, 1)}
	first := make(chan struct{})
	go func() {
		defer resp.Body.Close()
		w.err <- w.read(bufio.NewReader(resp.Body), first)
	}()
	select {
	case <-first:
		return w, nil
	case err := <-w.err:
		return nil, err
	}
}

// read takes the stream apart: events end with an empty line.
func (w *watcher) read(b *bufio.Reader, first chan<- struct{}) error {
	event, id := "", uint64(0)
	for begun := false; ; {
		line, err := b.ReadString('\n')
		if err != nil {
			return err
		}
		switch key, value, _ := strings.Cut(strings.TrimSuffix(line, "\n"), ": "); key {
		case "event":
			event = value
		case "id":
			if id, err = strconv.ParseUint(value, 10, 64); err != nil {
				return err
			}
		case "":
			switch {
			case !begun && event == "beat":
				begun = true
				close(first)
			case begun && event == "":
				w.rows <- id
			}
			event = ""
		}
	}
}

// screenWithin is how long a change may take to reach the screen before the
// measurement is given up.
const screenWithin = 10 * time.Second

// seen returns when a change of the page has come that knows a sequence.
func (w *watcher) seen(ctx context.Context, seq uint64) error {
	late := time.NewTimer(screenWithin)
	defer late.Stop()
	for {
		select {
		case at := <-w.rows:
			if at >= seq {
				return nil
			}
		case err := <-w.err:
			return err
		case <-ctx.Done():
			return ctx.Err()
		case <-late.C:
			return fault.New(fault.Unavailable, "screen-late", fmt.Sprintf("event %d did not reach the board within %s", seq, screenWithin), "")
		}
	}
}
