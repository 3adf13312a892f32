package screens

import (
	"net/http"
	"net/url"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"

	"seamwright/services/fault"
)

const (
	seamPath = "/bay/2207/2207.rear-panel-floor"
	anID     = "0198c0de-0000-8000-8000-00000000abcd"
)

func layForm() url.Values {
	return url.Values{"kind": {"lay"}, "command": {anID}, "f.cartridge": {"31"}, "f.volume_ml": {"47"}}
}

// TestPressReachesSource follows one press from the page's own form to the
// Source and back to the page that tells what came of it.
func TestPressReachesSource(t *testing.T) {
	f := fullSource()
	f.result.Findings = []string{"note: 2 ml more than planned"}
	site := serve(t, f)
	page := get(t, site, seamPath, 200, named()...)
	id := commandOf(t, page, "lay")
	form := layForm()
	form.Set("command", id)
	resp, _ := post(t, site, seamPath, form, named()...)
	if want := seamPath + "?said=" + id; resp.StatusCode != 303 || resp.Header.Get("Location") != want {
		t.Fatalf("%s to %q, want 303 to %q", resp.Status, resp.Header.Get("Location"), want)
	}
	want := []Action{{
		Kind: DoLay, RO: "2207", Seam: "2207.rear-panel-floor", CommandID: id, Actor: "T. Orrable", Terminal: "bay-2",
		Fields: map[string]string{"cartridge": "31", "volume_ml": "47"},
	}}
	if diff := cmp.Diff(want, f.done()); diff != "" {
		t.Errorf("the Source got (-want +got):\n%s", diff)
	}
	after := get(t, site, resp.Header.Get("Location"), 200, named()...)
	for _, says := range []string{"Bead laid at 10:43.", "note: 2 ml more than planned"} {
		if !strings.Contains(after, says) {
			t.Errorf("the page after the press does not say %q", says)
		}
	}
}

// commandOf reads the command id that a page's form of that kind carries.
func commandOf(t *testing.T, page, kind string) string {
	t.Helper()
	_, rest, ok := strings.Cut(page, `name="kind" value="`+kind+`">`)
	if !ok {
		t.Fatalf("the page has no form of kind %s", kind)
	}
	_, rest, _ = strings.Cut(rest, `name="command" value="`)
	id, _, _ := strings.Cut(rest, `"`)
	if !uuidForm.MatchString(id) {
		t.Fatalf("command id %q is no UUID of RFC 9562", id)
	}
	return id
}

// TestCommandIDs checks that an id stays while a page stands, and that it is
// another one for each page and each button.
func TestCommandIDs(t *testing.T) {
	r := ref{Kind: "bay", RO: "2207", Seam: "s", Viewer: "v1"}
	first := r.CommandID(DoLay, "Bead laid")
	if again := r.CommandID(DoLay, "Bead laid"); again != first {
		t.Errorf("drawn again it is %s, was %s", again, first)
	}
	seen := map[string]bool{first: true}
	other := r
	other.Viewer = "v2"
	another := r
	another.Seam = "t"
	for _, id := range []string{
		r.CommandID(DoScuff, "Bead laid"), r.CommandID(DoLay, "Laid earlier"), other.CommandID(DoLay, "Bead laid"), another.CommandID(DoLay, "Bead laid"),
	} {
		if seen[id] {
			t.Errorf("%s is given out twice", id)
		}
		seen[id] = true
	}
	site := serve(t, fullSource())
	one, two := get(t, site, seamPath, 200, named()...), get(t, site, seamPath, 200, named()...)
	if commandOf(t, one, "lay") == commandOf(t, two, "lay") {
		t.Error("two pages carry the same command id")
	}
}

// TestBadPress sends what no page would send: each is told clearly which
// field, which value and which limit, and nothing reaches the Source.
func TestBadPress(t *testing.T) {
	long := strings.Repeat("x", longest+1)
	for name, c := range map[string]struct {
		path   string
		change func(url.Values)
		status int
		says   []string
	}{
		"unknown kind":     {seamPath, set("kind", "explode"), 400, []string{"kind", "explode", "an action of this screen"}},
		"booth's kind":     {seamPath, set("kind", "start-spray"), 400, []string{"start-spray", "an action of this screen"}},
		"bay's kind":       {"/booth/b1", set("kind", "lay"), 400, []string{"&#34;lay&#34;", "an action of this screen"}},
		"no kind":          {seamPath, set("kind", ""), 400, []string{"kind"}},
		"no command":       {seamPath, set("command", ""), 400, []string{"command", "UUID"}},
		"not a UUID":       {seamPath, set("command", "42"), 400, []string{"command", "42", "UUID"}},
		"not a number":     {seamPath, set("f.volume_ml", "4o"), 400, []string{"volume_ml", "4o", "a number"}},
		"no finite number": {seamPath, set("f.volume_ml", "NaN"), 400, []string{"volume_ml", "NaN"}},
		"infinite":         {seamPath, set("f.age_min", "Inf"), 400, []string{"age_min", "Inf"}},
		"unknown field":    {seamPath, set("f.colour", "red"), 400, []string{"colour", "not a field of lay"}},
		"too long":         {seamPath, set("f.note", long), 400, []string{"note", "301 characters", "at most 300"}},
		"control letters":  {seamPath, set("f.note", "a\x00b"), 400, []string{"note", "plain text"}},
		"two mistakes":     {seamPath, func(v url.Values) { v.Set("command", "1"); v.Set("f.volume_ml", "x") }, 400, []string{"command", "volume_ml"}},
		"twice the field":  {seamPath, func(v url.Values) { v["f.note"] = []string{"a", "b"} }, 400, []string{"note", "sent once"}},
		"short PIN": {"/booth/b1", func(v url.Values) {
			v.Set("kind", "override")
			v.Set("f.pin", "12")
			v.Del("f.cartridge")
			v.Del("f.volume_ml")
		}, 400, []string{"pin", "4 to 12 digits"}},
		"far too much": {seamPath, set("f.note", strings.Repeat("x", formLimit)), 400, []string{"at most 16384 bytes"}},
	} {
		t.Run(name, func(t *testing.T) {
			f := fullSource()
			site := serve(t, f)
			form := layForm()
			c.change(form)
			resp, body := post(t, site, c.path, form, named()...)
			if resp.StatusCode != c.status {
				t.Errorf("%s, want %d", resp.Status, c.status)
			}
			for _, says := range append(c.says, "Nothing was recorded.") {
				if !strings.Contains(body, says) {
					t.Errorf("the page does not say %q:\n%s", says, body)
				}
			}
			if f.posts != 0 {
				t.Errorf("%d presses reached the Source", f.posts)
			}
		})
	}
}

func set(key, value string) func(url.Values) {
	return func(v url.Values) { v.Set(key, value) }
}

// TestPINNotShown checks that a mistyped PIN does not come back on a page.
func TestPINNotShown(t *testing.T) {
	site := serve(t, fullSource())
	form := url.Values{"kind": {"override"}, "command": {anID}, "f.pin": {"98a76"}}
	if _, body := post(t, site, "/booth/b1", form, named()...); strings.Contains(body, "98a76") {
		t.Error("the error page shows the PIN")
	}
}

// TestNobodyNamed refuses a press from a screen at which no name was picked.
func TestNobodyNamed(t *testing.T) {
	f := fullSource()
	site := serve(t, f)
	resp, body := post(t, site, seamPath, layForm())
	if resp.StatusCode != http.StatusForbidden || !strings.Contains(body, "pick your name") || f.posts != 0 {
		t.Errorf("%s, %d posts:\n%s", resp.Status, f.posts, body)
	}
}

// TestOtherSitesPress refuses a press that a browser says came from another
// site's page, and one that is no form.
func TestOtherSitesPress(t *testing.T) {
	f := fullSource()
	site := serve(t, f)
	for _, c := range []struct{ header, value, kind string }{
		{"Sec-Fetch-Site", "cross-site", "application/x-www-form-urlencoded"},
		{"Origin", "https://elsewhere.example", "application/x-www-form-urlencoded"},
		{"Sec-Fetch-Site", "same-origin", "text/plain"},
	} {
		r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, site.URL+seamPath, strings.NewReader(layForm().Encode()))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", c.kind)
		r.Header.Set(c.header, c.value)
		resp, _ := visitor(named()...)(t, r)
		if resp.StatusCode != http.StatusForbidden && resp.StatusCode != http.StatusBadRequest {
			t.Errorf("%s: %s as %s: %s", c.header, c.value, c.kind, resp.Status)
		}
	}
	if f.posts != 0 {
		t.Errorf("%d presses reached the Source", f.posts)
	}
}

// TestPressTwice sends one page's press many times at once: it takes effect
// once and each sender hears the same.
func TestPressTwice(t *testing.T) {
	f := fullSource()
	site := serve(t, f)
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			resp, _ := post(t, site, seamPath, layForm(), named()...)
			if resp.StatusCode != 303 {
				t.Errorf("%s, want 303", resp.Status)
			}
		})
	}
	wg.Wait()
	if n := len(f.done()); n != 1 {
		t.Errorf("took effect %d times", n)
	}
}

// TestPressAgainAfterTrouble checks that an error is not remembered: the same
// id goes to the Source again.
func TestPressAgainAfterTrouble(t *testing.T) {
	f := fullSource()
	site := serve(t, f)
	f.set(func(f *fakeSource) {
		f.refuse = fault.New(fault.Unavailable, "journal", "the journal does not answer", "")
	})
	resp, body := post(t, site, seamPath, layForm(), named()...)
	if resp.StatusCode != 503 || !strings.Contains(body, "it takes effect once") {
		t.Fatalf("%s:\n%s", resp.Status, body)
	}
	f.set(func(f *fakeSource) { f.refuse = nil })
	if resp, _ := post(t, site, seamPath, layForm(), named()...); resp.StatusCode != 303 {
		t.Errorf("%s after the trouble had gone", resp.Status)
	}
	if n := len(f.done()); n != 1 {
		t.Errorf("took effect %d times", n)
	}
}

// TestEveryAskIsAField checks that each button of the gallery asks for and
// gives only what its kind takes, so that no drawn button is refused.
func TestEveryAskIsAField(t *testing.T) {
	check := func(b *Button, kinds map[Kind][]string) {
		if b == nil {
			return
		}
		fields := map[string]bool{}
		for _, n := range append(append([]string{}, kinds[b.Kind]...), everyKind...) {
			fields[n] = true
		}
		if kinds[b.Kind] == nil {
			t.Errorf("%s is no kind of its screen", b.Kind)
		}
		for _, a := range b.Asks {
			if !fields[a.Name] {
				t.Errorf("%s asks for %s", b.Kind, a.Name)
			}
		}
		for _, g := range b.Given {
			if !fields[g.Name] {
				t.Errorf("%s gives %s", b.Kind, g.Name)
			}
		}
	}
	for _, b := range []Booth{galleryBoothHold(), galleryBoothClear(), galleryBoothOverride(), galleryBoothUnknown()} {
		for _, x := range []*Button{b.Request, b.Start, b.Finish, b.Override} {
			check(x, boothKinds)
		}
		for i := range b.Else {
			check(&b.Else[i], boothKinds)
		}
	}
	for _, x := range []*Button{galleryPlan().Place, galleryPlan().Free} {
		check(x, deskKinds)
	}
	for _, b := range []Bay{galleryBayLay(), galleryBayGelled(), galleryBayFlowing(), galleryBayHold(), galleryBayFinished()} {
		check(b.Seam.Next, bayKinds)
		check(b.Seam.Undo, bayKinds)
		for i := range b.Seam.Else {
			check(&b.Seam.Else[i], bayKinds)
		}
	}
}

// TestTheDeskNeedsNoName: at the desk the foreman is picked with the PIN, and
// what came of the press is told on the desk.
func TestTheDeskNeedsNoName(t *testing.T) {
	f := fullSource()
	f.result.Said = "2207-A is put into booth 1 by hand at 10:43."
	site := serve(t, f)
	id := commandOf(t, get(t, site, "/plan", 200), "place-load")
	form := url.Values{"kind": {"place-load"}, "command": {id}, "f.load": {"2207-A"}, "f.start": {"14:10"}, "f.booth": {""}, "f.person": {"A. Vellacorn"}, "f.pin": {"2468"}}
	resp, _ := post(t, site, "/plan", form)
	if want := "/plan?said=" + id; resp.StatusCode != 303 || resp.Header.Get("Location") != want {
		t.Fatalf("%s to %q, want 303 to %q", resp.Status, resp.Header.Get("Location"), want)
	}
	want := []Action{{
		Kind: DoPlaceLoad, Desk: true, CommandID: id, Actor: "A. Vellacorn", Terminal: "desk",
		Fields: map[string]string{"load": "2207-A", "start": "14:10", "person": "A. Vellacorn", "pin": "2468"},
	}}
	if diff := cmp.Diff(want, f.done()); diff != "" {
		t.Errorf("the Source got (-want +got):\n%s", diff)
	}
	if after := get(t, site, resp.Header.Get("Location"), 200); !strings.Contains(after, f.result.Said) {
		t.Error("the desk does not tell what came of the press")
	}
	form.Set("kind", "override")
	if resp, body := post(t, site, "/plan", form); resp.StatusCode != 422 && resp.StatusCode != 400 {
		t.Errorf("an override at the desk: %s %s", resp.Status, body)
	}
}
