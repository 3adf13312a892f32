package screens

import (
	"bytes"
	"flag"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write testdata/golden anew from what the gallery draws")

// TestGalleryGolden compares every gallery screen with the page that was
// looked at and approved. Run with -update after a wanted change and read the
// difference.
func TestGalleryGolden(t *testing.T) {
	seen := map[string]bool{}
	for _, e := range Gallery() {
		t.Run(e.Name, func(t *testing.T) {
			if seen[e.Name] {
				t.Fatalf("two gallery screens are called %q", e.Name)
			}
			seen[e.Name] = true
			p, err := e.draw()
			if err != nil {
				t.Fatal(err)
			}
			p.Build = "golden"
			var b bytes.Buffer
			if err := templates.ExecuteTemplate(&b, "page", p); err != nil {
				t.Fatal(err)
			}
			file := filepath.Join("testdata", "golden", e.Name+".html")
			if *update {
				if err := os.WriteFile(file, b.Bytes(), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatalf("%v; run go test -run Golden -update and look at the page", err)
			}
			if diff := cmp.Diff(strings.Split(string(want), "\n"), strings.Split(b.String(), "\n")); diff != "" {
				t.Errorf("page differs (-golden +drawn):\n%s", diff)
			}
		})
	}
}

// TestGalleryRoutes asks for the list and every screen over HTTP.
func TestGalleryRoutes(t *testing.T) {
	site := serve(t, &fakeSource{})
	list := get(t, site, "/gallery", http.StatusOK)
	for _, e := range Gallery() {
		if !strings.Contains(list, `href="/gallery/`+e.Name+`"`) {
			t.Errorf("the list does not link %s", e.Name)
		}
		get(t, site, "/gallery/"+e.Name, http.StatusOK)
	}
	body := get(t, site, "/gallery/no-such-screen", http.StatusNotFound)
	if !strings.Contains(body, "no-such-screen") {
		t.Error("the error page does not name the screen that was asked for")
	}
}
