package screens

import (
	"io"
	"net/http"
	"net/http/httptest"
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
	return []*http.Cookie{{Name: actorCookie, Value: "M.+Okafor"}, {Name: terminalCookie, Value: "bay-2"}}
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
