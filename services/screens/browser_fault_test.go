package screens

import (
	"strings"
	"testing"
)

// TestBrowserFault fills the shop's disk under an open tablet and makes room
// again: the band comes and goes by itself, and nothing says "live" meanwhile.
func TestBrowserFault(t *testing.T) {
	f := fullSource()
	site := serve(t, f)
	ctx := browse(t, 820, 1180)
	open(t, ctx, site.URL, seamPath)
	const (
		live = `[...document.querySelectorAll(".lively-chip")].some((e) => e.offsetWidth > 0)`
		band = `document.getElementById("fault").offsetHeight`
	)
	await(t, ctx, live+` && `+band+` === 0`)
	f.set(func(f *fakeSource) { f.bay.Faults = galleryFaults() })
	f.changes <- 412
	await(t, ctx, band+` > 60 && !(`+live+`)`)
	text := eval[string](t, ctx, `document.getElementById("fault").innerText`)
	for _, want := range []string{"Nothing is being recorded: the shop's disk is full.", "Keep a note and tell it later.", "Make room", "1 more fault"} {
		if !strings.Contains(text, want) {
			t.Errorf("the band says %q, not %q", text, want)
		}
	}
	f.set(func(f *fakeSource) { f.bay.Faults = nil })
	f.changes <- 413
	await(t, ctx, live+` && `+band+` === 0`)
}
