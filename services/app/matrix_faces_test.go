package app_test

import (
	"bufio"
	"context"
	"html"
	"io"
	"net"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"google.golang.org/grpc/test/bufconn"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/app"
	"seamwright/services/bus"
	"seamwright/services/screens"
)

// viewer is a browser at the booth's page: it loads the page and follows its
// stream.
type viewer struct {
	client *http.Client
	base   string // URL
	end    context.CancelFunc
	all    sync.WaitGroup

	mu    sync.Mutex
	state string   // of the gate, as the stream has it
	seen  []string // every state that the stream brought
	beats int      // signs of life of the page
}

var (
	gateState = regexp.MustCompile(`class="gate booth-gate" data-state="([a-z]*)"`)
	stream    = regexp.MustCompile(`/events\?[^"]+`)
)

// newViewer opens the page.
func newViewer(t *testing.T, client *http.Client, base string) *viewer {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	v := &viewer{client: client, base: base, end: cancel}
	page := v.load()
	v.state = state(page)
	path := html.UnescapeString(stream.FindString(page))
	if path == "" {
		t.Fatal("the booth's page names no stream")
	}
	v.all.Go(func() { v.follow(ctx, path) })
	return v
}

// piped serves a program's screens over a pipe, for time that is not the
// machine's, until the end is called.
func piped(t *testing.T, a *app.App) (client *http.Client, end func()) {
	t.Helper()
	src, err := app.Feed(a)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	l := bufconn.Listen(1 << 20)
	web := &http.Server{
		Handler:     screens.New(ctx, src, screens.Options{Shop: "shop", Log: quiet()}),
		BaseContext: func(net.Listener) context.Context { return ctx },
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		_ = web.Serve(l)
	}()
	client = &http.Client{Transport: &http.Transport{
		DisableKeepAlives: true,
		DialContext:       func(ctx context.Context, _, _ string) (net.Conn, error) { return l.DialContext(ctx) },
	}}
	return client, func() {
		cancel()
		_ = web.Close()
		<-done
	}
}

func state(page string) string {
	if m := gateState.FindStringSubmatch(page); m != nil {
		return m[1]
	}
	return ""
}

// load is the page as a browser gets it now.
func (v *viewer) load() string {
	r, err := v.client.Get(v.base + "/booth/" + theBooth)
	if err != nil {
		return ""
	}
	defer r.Body.Close()
	b, err := io.ReadAll(r.Body)
	if err != nil {
		return ""
	}
	return string(b)
}

// follow takes in the stream.
func (v *viewer) follow(ctx context.Context, path string) {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, v.base+path, nil)
	if err != nil {
		return
	}
	r, err := v.client.Do(req)
	if err != nil {
		return
	}
	defer r.Body.Close()
	event, data := "", []string{}
	in := bufio.NewReader(r.Body)
	for {
		line, err := in.ReadString('\n')
		if err != nil {
			return
		}
		switch line = strings.TrimSuffix(line, "\n"); {
		case line == "":
			v.take(event, strings.Join(data, "\n"))
			event, data = "", nil
		case strings.HasPrefix(line, "event: "):
			event = line[7:]
		case strings.HasPrefix(line, "data: "):
			data = append(data, line[6:])
		}
	}
}

func (v *viewer) take(event, data string) {
	v.mu.Lock()
	defer v.mu.Unlock()
	if event == "beat" {
		v.beats++
		return
	}
	if s := state(data); s != "" || gateState.MatchString(data) {
		v.state = s
		v.seen = append(v.seen, s)
	}
}

// shown is the gate's state as the stream has it, and every one since a
// number of them.
func (v *viewer) shown(since int) (now string, all []string) {
	v.mu.Lock()
	defer v.mu.Unlock()
	return v.state, slices.Clone(v.seen[min(since, len(v.seen)):])
}

func (v *viewer) count() int {
	v.mu.Lock()
	defer v.mu.Unlock()
	return len(v.seen)
}

// lives counts the page's signs of life.
func (v *viewer) lives() int {
	v.mu.Lock()
	defer v.mu.Unlock()
	return v.beats
}

func (v *viewer) close() {
	v.end()
	v.all.Wait()
	v.client.CloseIdleConnections()
}

// gate is what the booth service says when it is asked.
func (l *lane) gate() *boothv1.Gate {
	r, err := l.booth.GetGate(l.t.Context(), &boothv1.GetGateRequest{BoothId: theBooth})
	if err != nil {
		return nil
	}
	return r.GetGate()
}

// judged is what a reader on the bus makes of the beats now.
func (l *lane) judged() bus.Verdict {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.judge.At(time.Since(l.began))
}

// heard are the beats since a number of them.
func (l *lane) heard(since int) []*boothv1.Gate {
	l.mu.Lock()
	defer l.mu.Unlock()
	return slices.Clone(l.beats[min(since, len(l.beats)):])
}

func (l *lane) beatCount() int {
	l.mu.Lock()
	defer l.mu.Unlock()
	return len(l.beats)
}

// reasonsOf are the names of a gate's reasons.
func reasonsOf(rs []*boothv1.Reason) (out []string) {
	for _, r := range rs {
		out = append(out, r.GetName())
	}
	return out
}

// permits lists what the journal holds about permits, in order: issued, or
// revoked with the names of its reasons.
func (l *lane) permits() (out []string) {
	w, f := l.app.Desk().Writer, l.app.Desk().Floor
	w.View(func(seq uint64) {
		for n := uint64(1); n <= seq; n++ {
			ev, _, _ := f.Event(n)
			switch b := ev.Body.(type) {
			case *boothv1.PermitIssued:
				out = append(out, "issued")
			case *boothv1.PermitRevoked:
				var rs []string
				for _, r := range b.GetReasons() {
					name, _, _ := strings.Cut(r, " ")
					rs = append(rs, name)
				}
				out = append(out, "revoked "+strings.Join(slices.Compact(rs), ","))
			}
		}
	})
	return out
}

// revokedFor reports whether an entry of permits is a revocation that names a
// cause, or one of several ("a|b").
func revokedFor(entry, cause string) bool {
	rest, ok := strings.CutPrefix(entry, "revoked ")
	return ok && slices.ContainsFunc(strings.Split(cause, "|"), func(name string) bool { return slices.Contains(strings.Split(rest, ","), name) })
}
