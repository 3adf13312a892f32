package screens

import (
	"encoding/json"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"seamwright/services/fault"
)

// TestFaultsBecomePages maps each kind of fault onto its status, for the page
// and for the page's script.
func TestFaultsBecomePages(t *testing.T) {
	for kind, want := range map[fault.Kind]int{
		fault.Invalid: 400, fault.NotFound: 404, fault.Conflict: 409, fault.Refused: 409, fault.Denied: 403,
		fault.Unavailable: 503, fault.Exists: 409, fault.Internal: 500, fault.Corrupt: 500, fault.Cancelled: 503,
	} {
		f := fullSource()
		f.refuse = fault.New(kind, "reason", "the words of the fault", "what to do next")
		site := serve(t, f)
		resp, body := post(t, site, "/booth/b1", url.Values{"kind": {"request-permit"}, "command": {anID}}, named()...)
		if resp.StatusCode != want {
			t.Errorf("%v: %s, want %d", kind, resp.Status, want)
		}
		ours := kind != fault.Internal && kind != fault.Corrupt
		if strings.Contains(body, "the words of the fault") != ours {
			t.Errorf("%v: the page shows the fault's words: %v, want %v", kind, !ours, ours)
		}
		if recorded := strings.Contains(body, "Nothing was recorded."); recorded && (want >= 500 || kind == fault.Refused) {
			t.Errorf("%v: the page claims that nothing was recorded", kind)
		}
	}
}

// TestScriptPress answers the page's script in JSON.
func TestScriptPress(t *testing.T) {
	site := serve(t, fullSource())
	for _, c := range []struct {
		volume string
		status int
		want   map[string]any
	}{
		{"47", 200, map[string]any{"go": seamPath + "?said=" + anID}},
		{"x", 400, map[string]any{
			"status": 400.0, "heading": "That does not fit", "message": `volume_ml: "x": a number, like 12.5`, "hint": "", "kept": "Nothing was recorded.",
		}},
	} {
		form := layForm()
		form.Set("f.volume_ml", c.volume)
		r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, site.URL+seamPath, strings.NewReader(form.Encode()))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Accept", "application/json")
		resp, body := visitor(named()...)(t, r)
		var got map[string]any
		if err := json.Unmarshal([]byte(body), &got); err != nil {
			t.Fatalf("%v in %s", err, body)
		}
		if diff := cmp.Diff(c.want, got); diff != "" || resp.StatusCode != c.status {
			t.Errorf("%s (-want +got):\n%s", resp.Status, diff)
		}
	}
}
