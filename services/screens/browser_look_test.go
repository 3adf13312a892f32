package screens

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/chromedp"
)

// listenConsole gathers what the browser complains about: script errors,
// failed requests and breaches of the content security policy.
func listenConsole(t *testing.T, ctx context.Context) (complaints func() []string) {
	t.Helper()
	var mu sync.Mutex
	var got []string
	messages := chromedp.Console(ctx)
	go func() {
		for m, err := range messages {
			if err != nil {
				return
			}
			if m.Type == chromedp.ConsoleLog || m.Type == chromedp.ConsoleDebug || m.Type == chromedp.ConsoleInfo {
				continue
			}
			mu.Lock()
			got = append(got, fmt.Sprintf("%s %s %s", m.Type, m.Text, m.URL))
			mu.Unlock()
		}
	}()
	return func() []string {
		mu.Lock()
		defer mu.Unlock()
		return slices.Clone(got)
	}
}

// TestBrowserNoComplaints opens every page, lets the live ones get two beats
// and checks that the browser had nothing to complain about.
func TestBrowserNoComplaints(t *testing.T) {
	f := fullSource()
	site := serve(t, f)
	ctx := browse(t, 1280, 800)
	complaints := listenConsole(t, ctx)
	open(t, ctx, site.URL, "/")
	for _, path := range []string{"/board", "/plan", "/booth/b1", "/bay", "/bay/2207", seamPath} {
		must(t, ctx, chromedp.Navigate(site.URL+path))
		await(t, ctx, `window.beats > 1`)
		f.changes <- 412
		if n := eval[int](t, ctx, `document.querySelectorAll("script").length`); n != 3 {
			t.Errorf("%s: %d scripts, want 3", path, n)
		}
	}
	for _, path := range []string{"/who", "/terminal", "/gallery"} {
		must(t, ctx, chromedp.Navigate(site.URL+path))
	}
	for _, e := range Gallery() {
		must(t, ctx, chromedp.Navigate(site.URL+"/gallery/"+e.Name))
	}
	if got := complaints(); len(got) > 0 {
		t.Errorf("the browser complains:\n%s", strings.Join(got, "\n"))
	}
	// The listener must be able to hear: a forbidden script is heard of.
	eval[bool](t, ctx, `(() => { const s = document.createElement("script"); s.textContent = "1"; document.body.append(s); return true; })()`)
	await(t, ctx, `true`)
	if got := complaints(); len(got) == 0 || !strings.Contains(strings.Join(got, ""), "Content Security Policy") {
		t.Errorf("a breach of the policy was not heard: %v", got)
	}
}

// overflow lists what sticks out of the page to the right or left.
const overflow = `(() => {
	const out = [];
	const wide = document.documentElement.clientWidth;
	if (document.documentElement.scrollWidth > wide) out.push("page is " + document.documentElement.scrollWidth + " wide");
	for (const e of document.body.querySelectorAll("*")) {
		if (e.closest("svg, .sr, .defs, .row-text, .bar-text, .hint")) continue;
		const r = e.getBoundingClientRect();
		if (r.width > 0 && (r.right > wide + 1 || r.left < -1)) out.push(e.tagName + "." + e.className + " " + Math.round(r.left) + ".." + Math.round(r.right));
	}
	return out;
})()`

// clipped lists texts that are cut short without a title to read them by.
const clipped = `[...document.body.querySelectorAll("*")].filter((e) => {
	const s = getComputedStyle(e);
	if (s.overflowX !== "hidden" || s.clipPath !== "none" || e.closest(".defs") || e.offsetWidth === 0) return false;
	return (e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 3) && !e.closest("[title]") && !e.querySelector("[title]") && !e.closest("svg")?.querySelector("title");
}).map((e) => e.tagName + "." + e.className + ": " + e.textContent.slice(0, 60))`

// TestBrowserFits checks every gallery screen at four sizes: nothing sticks
// out sideways, nothing is cut short without its full text in a title, and
// the wall shows a board whole.
func TestBrowserFits(t *testing.T) {
	site := serve(t, &fakeSource{})
	ctx := browse(t, 1920, 1080)
	for _, size := range [][2]int64{{1920, 1080}, {1280, 800}, {820, 1180}, {390, 844}} {
		must(t, ctx, chromedp.EmulateViewport(size[0], size[1]))
		for _, e := range Gallery() {
			must(t, ctx, chromedp.Navigate(site.URL+"/gallery/"+e.Name))
			await(t, ctx, `document.fonts.status === "loaded"`)
			for what, script := range map[string]string{"sticks out": overflow, "is cut short": clipped} {
				if got := eval[[]string](t, ctx, script); len(got) > 0 {
					t.Errorf("%s at %d: %s: %s", e.Name, size[0], what, strings.Join(got, "; "))
				}
			}
			if high := eval[int64](t, ctx, `document.documentElement.scrollHeight`); e.Width == 1920 && size[0] == 1920 && high > 1080 {
				t.Errorf("%s is %d high, the wall 1080", e.Name, high)
			}
		}
	}
}

// contrast computes the contrast of every text that is seen, by the formulas
// of WCAG 2.2 (relative luminance and contrast ratio, W3C Recommendation of 5
// October 2023), and lists those below the limit. The ground of a text on a
// drawn shape is the shape's fill.
const contrast = `((limit) => {
	const parse = (c) => { const m = c.match(/[\d.]+/g).map(Number); return m.length > 3 && m[3] === 0 ? null : m; };
	const lum = (c) => { const [r, g, b] = c.slice(0, 3).map((v) => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; }); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
	const fill = (e) => e && parse(getComputedStyle(e).fill);
	const ground = (e) => {
		const lane = e.closest("foreignObject");
		if (e.matches("text") && e.parentNode.querySelector(".sign-shape")) return fill(e.parentNode.querySelector(".sign-shape"));
		for (let p = e; p; p = p.parentElement) {
			if (p.tagName === "foreignObject") break;
			const c = parse(getComputedStyle(p).backgroundColor);
			if (c) return c;
		}
		if (lane && lane.querySelector(".block-label")) return fill(lane.previousElementSibling);
		if (lane && lane.querySelector(".words-open")) return fill(lane.parentNode.querySelector(".seg-open"));
		if (lane && lane.querySelector(".words-hold")) return fill(lane.parentNode.querySelector(".hold-bar"));
		for (let p = e; p; p = p.parentElement) {
			const c = parse(getComputedStyle(p).backgroundColor);
			if (c) return c;
		}
		return [255, 255, 255];
	};
	const bad = [];
	let seen = 0, least = 99;
	const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
	while (walk.nextNode()) {
		const e = walk.currentNode.parentElement;
		if (!walk.currentNode.textContent.trim() || e.closest("script, noscript, title, desc, button:disabled, .defs")) continue;
		const s = getComputedStyle(e), r = e.getBoundingClientRect();
		if (r.width < 2 || s.visibility === "hidden" || s.clipPath !== "none") continue;
		const colour = parse(e instanceof SVGElement ? s.fill : s.color);
		const a = lum(colour), b = lum(ground(e));
		const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
		seen++;
		least = Math.min(least, ratio);
		if (ratio < limit) bad.push(ratio.toFixed(2) + " " + e.tagName + "." + (e.getAttribute("class") || "") + ": " + walk.currentNode.textContent.trim().slice(0, 40));
	}
	return { bad, seen, least };
})`

// TestBrowserContrast holds every text of every gallery screen to 4.5:1, and
// to 7:1 in the bay.
func TestBrowserContrast(t *testing.T) {
	site := serve(t, &fakeSource{})
	ctx := browse(t, 1920, 1080)
	type result struct {
		Bad   []string `json:"bad"`
		Seen  int      `json:"seen"`
		Least float64  `json:"least"`
	}
	// The formula itself: black on white is 21 by definition, and #767676 on
	// white is 4.54, the lightest grey that passes 4.5 (W3C, Understanding
	// SC 1.4.3).
	must(t, ctx, chromedp.Navigate(site.URL+"/gallery"))
	for colour, want := range map[string]float64{"rgb(0,0,0)": 21, "rgb(118,118,118)": 4.54} {
		got := eval[result](t, ctx, `(() => { document.body.replaceChildren(); document.body.append("x"); document.body.style.setProperty("background", "rgb(255,255,255)"); document.body.style.setProperty("color", "`+colour+`"); return `+contrast+`(1); })()`)
		if got.Seen != 1 || got.Least < want-0.005 || got.Least > want+0.005 {
			t.Fatalf("%s on white: %+v, want %.2f", colour, got, want)
		}
	}
	for _, e := range Gallery() {
		limit := "4.5"
		if strings.HasPrefix(e.Name, "bay-") {
			limit = "7"
		}
		must(t, ctx, chromedp.EmulateViewport(int64(e.Width), int64(e.Height)), chromedp.Navigate(site.URL+"/gallery/"+e.Name))
		// Fold-outs are read as well.
		eval[bool](t, ctx, `(() => { for (const d of document.querySelectorAll("details")) d.open = true; return true; })()`)
		got := eval[result](t, ctx, contrast+`(`+limit+`)`)
		if got.Seen < 5 {
			t.Errorf("%s: only %d texts were looked at", e.Name, got.Seen)
		}
		if len(got.Bad) > 0 {
			t.Errorf("%s: below %s:1:\n%s", e.Name, limit, strings.Join(got.Bad, "\n"))
		}
	}
}

// TestBrowserTouch checks that what gloves must hit in the bay is at least 48
// CSS pixels in both directions (common practice for touch; WCAG 2.2 success
// criterion 2.5.5 asks for 44), on the tablet and on a phone. What is hit of a
// choice is its whole label.
func TestBrowserTouch(t *testing.T) {
	site := serve(t, &fakeSource{})
	ctx := browse(t, 820, 1180)
	for _, size := range [][2]int64{{820, 1180}, {390, 844}} {
		must(t, ctx, chromedp.EmulateViewport(size[0], size[1]))
		for _, e := range Gallery() {
			if !strings.HasPrefix(e.Name, "bay-") && !strings.HasPrefix(e.Name, "run-") {
				continue
			}
			must(t, ctx, chromedp.Navigate(site.URL+"/gallery/"+e.Name))
			got := eval[[]string](t, ctx, `[...document.querySelectorAll("main a, .deed button, .deed a, .deed summary, .deed label.choice, .deed input:not([type=hidden], .choice input)")].filter((b) => {
				const r = b.getBoundingClientRect();
				return r.width > 0 && (r.width < 48 || r.height < 48);
			}).map((b) => b.tagName + " " + b.textContent.slice(0, 30))`)
			if len(got) > 0 {
				t.Errorf("%s at %d: too small: %v", e.Name, size[0], got)
			}
		}
	}
}
