package screens

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"sync"
	"time"

	"seamwright/services/fault"
)

// bell wakes every viewer when the journal grows. A viewer that is busy is
// woken once for any number of rings.
type bell struct {
	ctx   context.Context
	mu    sync.Mutex
	ropes map[chan struct{}]bool
}

func newBell(ctx context.Context) *bell { return &bell{ctx: ctx, ropes: map[chan struct{}]bool{}} }

func (b *bell) follow(changes <-chan uint64) {
	for range changes {
		b.ring()
	}
}

func (b *bell) ring() {
	b.mu.Lock()
	defer b.mu.Unlock()
	for c := range b.ropes {
		select {
		case c <- struct{}{}:
		default:
		}
	}
}

func (b *bell) join() (rope chan struct{}, leave func()) {
	c := make(chan struct{}, 1)
	b.mu.Lock()
	b.ropes[c] = true
	b.mu.Unlock()
	return c, func() {
		b.mu.Lock()
		delete(b.ropes, c)
		b.mu.Unlock()
	}
}

// viewers remembers what a page was handed out with until its stream opens.
type viewers struct {
	mu    sync.Mutex
	seen  map[string]seen
	order []string
}

func newViewers() *viewers { return &viewers{seen: map[string]seen{}} }

func (v *viewers) remember(token string, parts []part) {
	s := seen{}
	for _, p := range parts {
		s.note(p)
	}
	v.mu.Lock()
	defer v.mu.Unlock()
	v.seen[token] = s
	v.order = append(v.order, token)
	if len(v.order) > 512 {
		delete(v.seen, v.order[0])
		v.order = v.order[1:]
	}
}

// take hands the memory over once: what a stream that broke had sent may not
// have arrived, so the next one begins with everything.
func (v *viewers) take(token string) seen {
	v.mu.Lock()
	defer v.mu.Unlock()
	s, ok := v.seen[token]
	if !ok {
		return seen{}
	}
	delete(v.seen, token)
	return s
}

func newToken() string { return rand.Text() }

// beat is what a page is told each second, or twice.
type beat struct {
	N       uint64  `json:"n"`
	Now     string  `json:"now"`
	Speed   float64 `json:"speed"`
	Seq     uint64  `json:"seq"`
	Live    bool    `json:"live"`
	AgeS    float64 `json:"age"`
	Trouble string  `json:"trouble,omitempty"`
	Build   string  `json:"build"`
}

// stream sends one viewer what changes on its page.
type stream struct {
	s    *server
	w    http.ResponseWriter
	ctl  *http.ResponseController
	ref  ref
	seen seen
	n    uint64
	last Picture   // the newest picture that was drawn
	at   time.Time // when it was, by this machine's clock
}

// events is the stream of a page's changes as server-sent events.
func (s *server) events(w http.ResponseWriter, req *http.Request) error {
	r, err := eventRef(req)
	if err != nil {
		return err
	}
	if req.Method != http.MethodGet {
		return fault.Bad("method", req.Method, "GET: a stream has no head alone")
	}
	v := &stream{s: s, w: w, ctl: http.NewResponseController(w), ref: r, seen: s.viewers.take(r.Viewer), at: time.Now()}
	if req.Header.Get("Last-Event-ID") != "" {
		v.seen = seen{}
	}
	rope, leave := s.bell.join()
	defer leave()
	w.Header().Set("Content-Type", "text/event-stream")
	w.Header().Set("X-Accel-Buffering", "no")
	w.WriteHeader(http.StatusOK)
	ticks := time.NewTicker(s.opt.each(r))
	defer ticks.Stop()
	for {
		if err := v.send(req.Context()); err != nil {
			s.opt.Log.Debug("viewer cut off", "path", r.Path(), "err", err)
			return nil
		}
		select {
		case <-ticks.C:
		case <-rope:
		case <-req.Context().Done():
			return nil
		case <-s.bell.ctx.Done():
			return nil
		}
	}
}

// each is the time between two words to the viewer of a page.
func (o Options) each(r ref) time.Duration {
	if r.Kind == "board" || r.Kind == "booth" { // they show a gate
		return o.Beat / 2
	}
	return o.Beat
}

func eventRef(req *http.Request) (ref, error) {
	q := req.URL.Query()
	r := ref{
		Kind: q.Get("page"), Booth: q.Get("booth"), RO: q.Get("ro"), Seam: q.Get("seam"), Viewer: q.Get("viewer"), Said: q.Get("said"),
		Actor: cookie(req, actorCookie), Terminal: cookie(req, terminalCookie),
	}
	if r.Kind != "board" && r.Kind != "booth" && r.Kind != "bay" && r.Kind != "plan" {
		return r, fault.Bad("page", quote(r.Kind), "board, booth, bay or plan")
	}
	if r.Viewer == "" || len(r.Viewer) > 64 {
		return r, fault.Bad("viewer", quote(r.Viewer), "the token of a page that was handed out")
	}
	return r, nil
}

// send draws the page, sends the parts that changed and then a beat, so that
// a beat always vouches for the rows before it.
func (v *stream) send(ctx context.Context) error {
	p, err := v.s.load(ctx, v.ref)
	switch {
	case err == nil:
		v.last, v.at = p.Picture, time.Now()
		for _, q := range v.seen.changed(p.parts) {
			if err := v.write("", partial(q)); err != nil {
				return err
			}
		}
	case ctx.Err() != nil:
		return ctx.Err()
	default:
		v.last.Live, v.last.Trouble = false, "No answer: see whether the shop's program runs."
		if f, ok := errors.AsType[*fault.Error](err); ok && f.Kind != fault.Internal {
			v.last.Trouble = f.Message
		}
		v.s.opt.Log.Warn("screen not drawn", "path", v.ref.Path(), "err", err)
	}
	return v.beat()
}

func (v *stream) beat() error {
	v.n++
	since := time.Since(v.at)
	now := "" // no picture yet: the page keeps its own moment
	if !v.last.Now.IsZero() {
		now = stamp(v.last.Now.Add(time.Duration(float64(since) * speed(v.last))))
	}
	b, err := json.Marshal(beat{
		N: v.n, Now: now, Speed: speed(v.last), Seq: v.last.Seq, Live: v.last.Live,
		AgeS: (v.last.Age + since).Seconds(), Trouble: v.last.Trouble, Build: build,
	})
	if err != nil {
		return err
	}
	return v.write("beat", string(b))
}

// write sends one event within the viewer's time.
func (v *stream) write(event, data string) error {
	var b strings.Builder
	if event != "" {
		b.WriteString("event: " + event + "\n")
	}
	fmt.Fprintf(&b, "id: %d\n", v.last.Seq)
	data = strings.NewReplacer("\r\n", "\n", "\r", " ").Replace(data) // a bare CR would end the line
	for line := range strings.SplitSeq(data, "\n") {
		b.WriteString("data: " + line + "\n")
	}
	b.WriteString("\n")
	err := v.ctl.SetWriteDeadline(time.Now().Add(v.s.opt.WriteWithin))
	if err != nil && !errors.Is(err, http.ErrNotSupported) {
		return err
	}
	if _, err := v.w.Write([]byte(b.String())); err != nil {
		return err
	}
	return v.ctl.Flush()
}
