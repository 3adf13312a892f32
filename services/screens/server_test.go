package screens

import (
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
)

// visitor is a browser without a picture: it keeps cookies and does not
// follow redirects.
func visitor(cookies ...*http.Cookie) func(*testing.T, *http.Request) (*http.Response, string) {
	return func(t *testing.T, r *http.Request) (*http.Response, string) {
		t.Helper()
		for _, c := range cookies {
			r.AddCookie(c)
		}
		client := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
		resp, err := client.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer resp.Body.Close()
		b, err := io.ReadAll(resp.Body)
		if err != nil {
			t.Fatal(err)
		}
		return resp, string(b)
	}
}

func named() []*http.Cookie {
	return []*http.Cookie{{Name: actorCookie, Value: "T.+Orrable"}, {Name: terminalCookie, Value: "bay-2"}}
}

func get(t *testing.T, site *httptest.Server, path string, want int, cookies ...*http.Cookie) string {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, site.URL+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	resp, body := visitor(cookies...)(t, r)
	if resp.StatusCode != want {
		t.Fatalf("GET %s: %s, want %d\n%s", path, resp.Status, want, body)
	}
	return body
}

func fullSource() *fakeSource {
	return &fakeSource{board: galleryBoard(), booth: galleryBoothClear(), bay: galleryBayLay(), result: Result{Seq: 412, Said: "Bead laid at 10:43."}}
}

// TestPagesAnswer asks for each route as a browser would.
func TestPagesAnswer(t *testing.T) {
	site := serve(t, fullSource())
	for _, c := range []struct {
		path    string
		status  int
		cookies []*http.Cookie
		says    string
	}{
		{"/", 200, nil, `href="/booth/b1"`},
		{"/board", 200, nil, "Rear panel to floor"},
		{"/booth/b1", 200, nil, "You may spray 2207-A"},
		{"/booth/b9", 404, nil, `booth &#34;b9&#34; is not known`},
		{"/bay", 303, nil, ""},
		{"/bay", 200, named(), "Which car?"},
		{"/bay/2207", 200, named(), "Rear panel to floor"},
		{"/bay/2207/2207.rear-panel-floor", 200, named(), "Bead laid"},
		{"/bay/2207/2207.no-such", 404, named(), "2207.no-such"},
		{"/who", 200, nil, "T. Orrable"},
		{"/terminal", 200, nil, "bay-2"},
		{"/events", 400, nil, "board, booth, bay or plan"},
		{"/assets/seamwright.js", 200, nil, "use strict"},
		{"/assets/htmx.LICENSE.txt", 200, nil, "Zero-Clause BSD"},
		{"/assets/", 404, nil, ""},
		{"/nowhere", 404, nil, `screen &#34;/nowhere&#34; is not known`},
		{"/nowhere", 404, nil, `<a class="btn" href="/">Back</a>`},
		{"/booth", 404, nil, "lists the screens of this shop"},
	} {
		body := get(t, site, c.path, c.status, c.cookies...)
		if !strings.Contains(body, c.says) {
			t.Errorf("GET %s does not say %q", c.path, c.says)
		}
	}
}

// TestPolicy checks the headers of a page, of an asset and of an error page,
// and that no page carries what the policy forbids.
func TestPolicy(t *testing.T) {
	site := serve(t, fullSource())
	inline := regexp.MustCompile(`(?i)<script(?:\s[^>]*)?>[^<]|<style|\sstyle=|\son[a-z]+=|javascript:|https?://`)
	for _, path := range []string{
		"/", "/board", "/booth/b1", "/bay/2207/2207.rear-panel-floor", "/nowhere", "/booth/b9",
		"/gallery/board-full", "/gallery/booth-hold", "/gallery/bay-hold", "/who", "/assets/screens.css",
	} {
		r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, site.URL+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		resp, body := visitor(named()...)(t, r)
		csp := resp.Header.Get("Content-Security-Policy")
		for _, want := range []string{"default-src 'none'", "script-src 'self';", "style-src 'self';", "frame-ancestors 'none'", "base-uri 'none'"} {
			if !strings.Contains(csp, want) {
				t.Errorf("%s: policy %q lacks %s", path, csp, want)
			}
		}
		if strings.Contains(csp, "unsafe") {
			t.Errorf("%s: policy %q lets something unsafe in", path, csp)
		}
		if got := resp.Header.Get("X-Content-Type-Options"); got != "nosniff" {
			t.Errorf("%s: X-Content-Type-Options %q", path, got)
		}
		if found := inline.FindString(body); found != "" {
			t.Errorf("%s carries %q, which the policy forbids", path, found)
		}
	}
}

// TestNamesAreEscaped puts markup into names that people type.
func TestNamesAreEscaped(t *testing.T) {
	f := fullSource()
	const evil = `<img src=x onerror=alert(1)>"'</script>`
	f.board.Shop, f.board.Jobs[0].Vehicle, f.board.Jobs[0].Seams[0].Place, f.board.Gates[0].Sentence = evil, evil, evil, evil
	f.bay.Seam.Place, f.bay.Seam.Next.Label, f.bay.Seam.Next.Given[0].Value = evil, evil, evil
	site := serve(t, f)
	for _, path := range []string{"/board", "/bay/2207/2207.rear-panel-floor"} {
		if body := get(t, site, path, 200, named()...); strings.Contains(body, "<img") {
			t.Errorf("%s prints markup out of a name", path)
		}
	}
}

// TestPickName takes a name off the list and keeps it as a SameSite cookie.
func TestPickName(t *testing.T) {
	site := serve(t, fullSource())
	for _, c := range []struct {
		name, back, to string
		status         int
	}{
		{"J. Quillbeck", "/bay/2207", "/bay/2207", 303},
		{"J. Quillbeck", "//elsewhere.example/", "/", 303},
		{"J. Quillbeck", "https://elsewhere.example/", "/", 303},
		{"Nobody Known", "/bay", "", 400},
	} {
		resp, body := post(t, site, "/who", url.Values{"name": {c.name}, "back": {c.back}})
		if resp.StatusCode != c.status || resp.Header.Get("Location") != c.to {
			t.Errorf("%s, back to %s: %s to %q, want %d to %q", c.name, c.back, resp.Status, resp.Header.Get("Location"), c.status, c.to)
		}
		if c.status != 303 {
			if !strings.Contains(body, "one of the people of this shop") || len(resp.Cookies()) > 0 {
				t.Errorf("%s: not refused clearly", c.name)
			}
			continue
		}
		if len(resp.Cookies()) != 1 {
			t.Fatalf("%d cookies set, want 1", len(resp.Cookies()))
		}
		k := resp.Cookies()[0]
		if k.Name != actorCookie || k.Value != "J.+Quillbeck" || k.SameSite != http.SameSiteStrictMode || !k.HttpOnly {
			t.Errorf("cookie %v: want the name, SameSite=Strict and HttpOnly", k)
		}
	}
}

// post sends a form as the page's own browser would, without its script.
func post(t *testing.T, site *httptest.Server, path string, form url.Values, cookies ...*http.Cookie) (*http.Response, string) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, site.URL+path, strings.NewReader(form.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	return visitor(cookies...)(t, r)
}
