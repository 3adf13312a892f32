package screens

import (
	"bufio"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"seamwright/services/fault"
)

// event is one server-sent event, read as the HTML standard says (section
// 9.2.6): data lines joined by line feeds, ended by an empty line.
type event struct{ name, id, data string }

type listener struct {
	t    *testing.T
	body io.ReadCloser
	in   *bufio.Reader
}

// listen opens the stream of a page that was handed out before.
func listen(t *testing.T, site *httptest.Server, page string, lastID string) *listener {
	t.Helper()
	found := regexp.MustCompile(`hx-sse:connect="([^"]+)"`).FindStringSubmatch(page)
	if found == nil {
		t.Fatal("the page names no stream")
	}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, site.URL+strings.ReplaceAll(found[1], "&amp;", "&"), nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range named() {
		r.AddCookie(c)
	}
	if lastID != "" {
		r.Header.Set("Last-Event-ID", lastID)
	}
	resp, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	if got := resp.Header.Get("Content-Type"); got != "text/event-stream" || resp.StatusCode != 200 {
		t.Fatalf("%s %s", resp.Status, got)
	}
	l := &listener{t: t, body: resp.Body, in: bufio.NewReader(resp.Body)}
	t.Cleanup(l.close)
	return l
}

func (l *listener) close() { l.body.Close() }

func (l *listener) next() event {
	l.t.Helper()
	var e event
	var data []string
	for {
		line, err := l.in.ReadString('\n')
		if err != nil {
			l.t.Fatalf("the stream ended: %v", err)
		}
		line = strings.TrimSuffix(line, "\n")
		field, value, _ := strings.Cut(line, ": ")
		switch field {
		case "":
			e.data = strings.Join(data, "\n")
			return e
		case "event":
			e.name = value
		case "id":
			e.id = value
		case "data":
			data = append(data, value)
		}
	}
}

var target = regexp.MustCompile(`hx-target="#([^"]+)" hx-swap="outerMorph"`)

// round reads up to the next beat and returns the ids of the parts that came
// before it.
func (l *listener) round() (ids []string, b beat) {
	l.t.Helper()
	for {
		e := l.next()
		if e.name == "beat" {
			if err := json.Unmarshal([]byte(e.data), &b); err != nil {
				l.t.Fatalf("%v in %s", err, e.data)
			}
			return ids, b
		}
		m := target.FindStringSubmatch(e.data)
		if m == nil || !strings.Contains(e.data, `id="`+m[1]+`"`) {
			l.t.Fatalf("not a partial that holds its own target: %s", e.data)
		}
		ids = append(ids, m[1])
	}
}

// until reads on until a part came or the time for it has long passed.
func (l *listener) until(wanted func([]string, beat) bool) ([]string, beat) {
	l.t.Helper()
	for range 60 {
		if ids, b := l.round(); wanted(ids, b) {
			return ids, b
		}
	}
	l.t.Fatal("60 beats passed and it did not come")
	return nil, beat{}
}

// TestOnlyChangedRows changes one seam of many: that row is sent and no
// other part.
func TestOnlyChangedRows(t *testing.T) {
	f := fullSource()
	site := serve(t, f)
	l := listen(t, site, get(t, site, "/board", 200), "")
	if ids, b := l.round(); len(ids) != 0 || b.N != 1 || !b.Live || b.Seq != 411 {
		t.Fatalf("a page that was just handed out got %v again, beat %+v", ids, b)
	}
	f.set(func(f *fakeSource) {
		b := galleryBoard()
		b.Seq = 412
		b.Jobs[0].Seams[0].Text = "flow-out 72 % · opens 11:07"
		f.board = b
	})
	f.changes <- 412
	ids, b := l.until(func(ids []string, _ beat) bool { return len(ids) > 0 })
	if want := domID("row", "2207.roof-ditch-l"); !slices.Equal(ids, []string{want}) || b.Seq != 412 {
		t.Errorf("sent %v with sequence %d, want only %s with 412", ids, b.Seq, want)
	}
	if ids, _ := l.round(); len(ids) != 0 {
		t.Errorf("sent %v again although nothing changed", ids)
	}
}

// TestNewSeamSendsItsJob adds a seam: its job's group is sent whole, the
// other jobs are not.
func TestNewSeamSendsItsJob(t *testing.T) {
	f := fullSource()
	site := serve(t, f)
	l := listen(t, site, get(t, site, "/board", 200), "")
	l.round()
	f.set(func(f *fakeSource) {
		b := galleryBoard()
		b.Jobs[2].Seams = append(b.Jobs[2].Seams, SeamRow{ID: "2198.step", Place: "Step", Mark: MarkTodo})
		f.board = b
	})
	f.changes <- 412
	ids, _ := l.until(func(ids []string, _ beat) bool { return len(ids) > 0 })
	if want := []string{domID("job", "2198")}; !slices.Equal(ids, want) {
		t.Errorf("sent %v, want %v", ids, want)
	}
}

// TestResumeSendsAll connects a second time, as a viewer does that was cut
// off: it gets every part, and the command ids of the page stay.
func TestResumeSendsAll(t *testing.T) {
	f := fullSource()
	site := serve(t, f)
	page := get(t, site, seamPath, 200, named()...)
	id := commandOf(t, page, "lay")
	first := listen(t, site, page, "")
	if ids, _ := first.round(); len(ids) != 0 {
		t.Fatalf("first connection got %v", ids)
	}
	first.close()
	again := listen(t, site, page, "411")
	var got []string
	for {
		e := again.next()
		if e.name == "beat" {
			break
		}
		got = append(got, target.FindStringSubmatch(e.data)[1])
		if strings.Contains(e.data, `value="lay"`) && strings.Contains(e.data, `id="next"`) && !strings.Contains(e.data, id) {
			t.Error("the big button came back with another command id")
		}
	}
	want := []string{"fault", "top", "who", "nozzle", "said", "steps", "work", "cautions", "next", "else", "undo"}
	if !slices.Equal(got, want) {
		t.Errorf("resumed with %v, want %v", got, want)
	}
}

// TestNotLive tells viewers when the Source fails and when it says itself
// that its picture is old, and that it is well again.
func TestNotLive(t *testing.T) {
	f := fullSource()
	site := serve(t, f)
	l := listen(t, site, get(t, site, "/booth/b1", 200), "")
	l.round()
	for _, c := range []struct {
		trouble error
		says    string
	}{
		{fault.New(fault.Unavailable, "bus", "the bus does not answer", ""), "the bus does not answer"},
		{errors.New("a text for the log"), "No answer: see whether the shop's program runs."},
	} {
		f.set(func(f *fakeSource) { f.broken = c.trouble })
		_, b := l.until(func(_ []string, b beat) bool { return !b.Live })
		if b.Trouble != c.says {
			t.Errorf("told %q, want %q", b.Trouble, c.says)
		}
		f.set(func(f *fakeSource) { f.broken = nil })
		l.until(func(_ []string, b beat) bool { return b.Live })
	}
	f.set(func(f *fakeSource) {
		f.booth.Live, f.booth.Age, f.booth.Trouble = false, 42*time.Second, "behind the journal"
	})
	_, b := l.until(func(_ []string, b beat) bool { return !b.Live })
	if b.AgeS < 42 || b.Trouble != "behind the journal" {
		t.Errorf("beat %+v, want an age of 42 s or more and its reason", b)
	}
}

// TestBeatsAdvance checks that beats are numbered from one without a hole.
func TestBeatsAdvance(t *testing.T) {
	site := serve(t, fullSource())
	l := listen(t, site, get(t, site, "/board", 200), "")
	for want := uint64(1); want <= 3; want++ {
		if _, b := l.round(); b.N != want {
			t.Fatalf("beat %d, want %d", b.N, want)
		}
	}
}

// stuck is a viewer that reads nothing: each write runs into its deadline.
type stuck struct {
	httptest.ResponseRecorder
	deadline time.Time
	writes   int
}

func (s *stuck) SetWriteDeadline(t time.Time) error { s.deadline = t; return nil }

func (s *stuck) Write([]byte) (int, error) {
	s.writes++
	return 0, errors.New("i/o timeout")
}

// TestSlowViewerIsCutOff ends the stream of a viewer whose writes time out,
// at its first write, and has given it a time limit.
func TestSlowViewerIsCutOff(t *testing.T) {
	f := fullSource()
	f.changes = make(chan uint64)
	s := &server{
		src: f, opt: Options{Beat: time.Hour, WriteWithin: 3 * time.Second, Log: quiet()},
		viewers: newViewers(), outcomes: newOutcomes(), bell: newBell(t.Context()),
	}
	w := &stuck{ResponseRecorder: *httptest.NewRecorder()}
	before := time.Now()
	if err := s.events(w, httptest.NewRequest(http.MethodGet, "/events?page=board&viewer=v", nil)); err != nil {
		t.Fatal(err)
	}
	if w.writes != 1 || w.deadline.Before(before.Add(3*time.Second)) || w.deadline.After(time.Now().Add(3*time.Second)) {
		t.Errorf("%d writes with the deadline %v", w.writes, w.deadline)
	}
	if n := len(s.bell.ropes); n != 0 {
		t.Errorf("%d viewers are still woken", n)
	}
}
