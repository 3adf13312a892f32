package screens

import (
	"context"
	"net"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	cdpage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// open goes to a page of the site as T. Orrable at bay 2 and counts the beats
// that reach it.
func open(t *testing.T, ctx context.Context, origin, path string) {
	t.Helper()
	must(t, ctx, chromedp.Navigate(origin+"/terminal"))
	for _, form := range []string{"/terminal terminal=bay-2", "/who name=T. Orrable"} {
		action, body, _ := strings.Cut(form, " ")
		script := `fetch("` + action + `", {method: "POST", redirect: "manual", headers: {"Content-Type": "application/x-www-form-urlencoded"}, body: "` + body + `"}).then(() => true)`
		if _, err := chromedp.Run(ctx, chromedp.Evaluate[bool](script, chromedp.EvalAwaitPromise)); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := chromedp.Call(ctx, cdpage.AddScriptToEvaluateOnNewDocument, cdpage.AddScriptToEvaluateOnNewDocumentParams{
		Source: `window.beats = 0; addEventListener("beat", () => { window.beats++; }, true);`,
	}); err != nil {
		t.Fatal(err)
	}
	must(t, ctx, chromedp.Navigate(origin+path))
}

func must(t *testing.T, ctx context.Context, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(ctx, steps...); err != nil {
		t.Fatal(err)
	}
}

// await polls until a condition holds in the page. A poll ends when the page
// goes to another address, and goes on there.
func await(t *testing.T, ctx context.Context, condition string) {
	t.Helper()
	again, late := time.NewTicker(100*time.Millisecond), time.After(20*time.Second)
	defer again.Stop()
	for {
		_, err := chromedp.Run(ctx, chromedp.Poll[bool](condition, chromedp.WithPollingInterval(50*time.Millisecond), chromedp.WithPollingTimeout(20*time.Second)))
		if err == nil {
			return
		}
		if !strings.Contains(err.Error(), "navigated") && !strings.Contains(err.Error(), "context") {
			t.Fatalf("waiting for %s: %v", condition, err)
		}
		select { // the page is being changed for another
		case <-again.C:
		case <-late:
			t.Fatalf("waiting for %s: %v", condition, err)
		}
	}
}

func eval[T any](t *testing.T, ctx context.Context, script string) T {
	t.Helper()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](script))
	if err != nil {
		t.Fatalf("%s: %v", script, err)
	}
	return v
}

// shown says which of the gate's two faces is on the screen.
const shown = `[...document.querySelectorAll(".gate .real, .gate .doubt")].filter((e) => e.offsetWidth > 0).map((e) => e.querySelector("svg").getAttribute("aria-label")).join()`

func middle(t *testing.T, ctx context.Context, selector string) (x, y float64) {
	t.Helper()
	at := eval[[]float64](t, ctx, `(() => { const r = document.querySelector("`+selector+`").getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2]; })()`)
	return at[0], at[1]
}

// TestBrowserMorphKeepsPress holds the big button down while a part elsewhere
// and then a line of the button itself change: focus and press stay, and
// letting go is one press.
func TestBrowserMorphKeepsPress(t *testing.T) {
	f := fullSource()
	site := serve(t, f)
	ctx := browse(t, 820, 1180)
	open(t, ctx, site.URL, seamPath)
	await(t, ctx, `window.beats > 1`)
	await(t, ctx, rested)
	eval[bool](t, ctx, `(() => { const b = document.getElementById("big"); b.focus(); b.sameNode = true; return true; })()`)
	x, y := middle(t, ctx, "#big")
	must(t, ctx, chromedp.MouseEvent(chromedp.MousePressed, x, y, chromedp.ButtonLeft, chromedp.ClickCount(1)))
	f.set(func(f *fakeSource) {
		n, s, b := *f.bay.Nozzle, *f.bay.Seam, *f.bay.Seam.Next
		n.LeftML, b.Hint = known(85), "another hint"
		s.Next, f.bay.Nozzle, f.bay.Seam = &b, &n, &s
	})
	f.changes <- 412
	await(t, ctx, `document.getElementById("nozzle").textContent.includes("85 ml") && document.getElementById("big").textContent.includes("another hint")`)
	if !eval[bool](t, ctx, `document.activeElement.id === "big" && document.activeElement.sameNode === true && document.querySelector("#big:active") !== null`) {
		t.Error("the press or the focus was lost when other parts changed")
	}
	must(t, ctx, chromedp.MouseEvent(chromedp.MouseReleased, x, y, chromedp.ButtonLeft, chromedp.ClickCount(1)))
	await(t, ctx, `location.search.startsWith("?said=") && document.readyState === "complete"`)
	if n := len(f.done()); n != 1 {
		t.Errorf("%d presses took effect, want 1", n)
	}
}

// rested is true a second after a page has come up whole, on however busy a
// machine: by then it takes presses.
const rested = `document.readyState === "complete" && performance.now() - (window.completeAt ??= performance.now()) > 1000`

// TestBrowserPressOnce presses the big button twice as fast as the browser
// can: one press reaches the Source, and the page tells what came of it.
func TestBrowserPressOnce(t *testing.T) {
	f := fullSource()
	site := serve(t, f)
	ctx := browse(t, 820, 1180)
	open(t, ctx, site.URL, seamPath)
	await(t, ctx, rested)
	x, y := middle(t, ctx, "#big")
	must(t, ctx, chromedp.MouseClickXY(x, y), chromedp.MouseClickXY(x, y))
	await(t, ctx, `document.getElementById("said") !== null && document.getElementById("said").textContent.includes("Bead laid at 10:43.")`)
	f.set(func(f *fakeSource) {
		if f.posts != 1 || len(f.effects) != 1 {
			t.Errorf("%d presses reached the Source, %d took effect, want 1 and 1", f.posts, len(f.effects))
		}
	})
	// A page that has just come up takes no press for a moment: the third tap
	// of a nervous hand confirms nothing.
	must(t, ctx, chromedp.Navigate(site.URL+seamPath))
	eval[bool](t, ctx, `(() => { document.getElementById("big").click(); return true; })()`)
	await(t, ctx, `window.beats > 1`)
	if n := len(f.done()); n != 1 {
		t.Errorf("a press on a page that had just come up took effect")
	}
}

// TestBrowserRefusal shows a refused press on the page, which stays.
func TestBrowserRefusal(t *testing.T) {
	f := fullSource()
	site := serve(t, f)
	ctx := browse(t, 820, 1180)
	open(t, ctx, site.URL, seamPath)
	f.bay.Seam.Next.Given = []Given{{"volume_ml", "not a number"}}
	must(t, ctx, chromedp.Navigate(site.URL+seamPath))
	await(t, ctx, rested)
	x, y := middle(t, ctx, "#big")
	must(t, ctx, chromedp.MouseClickXY(x, y))
	await(t, ctx, `document.getElementById("trouble").textContent.includes("Nothing was recorded.")`)
	if n := len(f.done()); n != 0 {
		t.Errorf("%d presses took effect", n)
	}
}

// TestBrowserClearNeedsTwoBeats holds the beats back: with one beat the page
// shows HOLD although the picture says clear, with the second CLEAR.
func TestBrowserClearNeedsTwoBeats(t *testing.T) {
	f := fullSource()
	site := serveBeating(t, f, time.Hour)
	ctx := browse(t, 1280, 800)
	open(t, ctx, site.URL, "/booth/b1")
	await(t, ctx, `window.beats === 1`)
	if got := eval[string](t, ctx, shown); got != "HOLD, state not known" {
		t.Errorf("after one beat the gate shows %q", got)
	}
	if !eval[bool](t, ctx, `document.querySelector("[data-live-only] button").getAttribute("aria-disabled") === "true"`) {
		t.Error("after one beat spraying may be started")
	}
	f.changes <- 412
	await(t, ctx, `window.beats === 2`)
	if got := eval[string](t, ctx, shown); got != "CLEAR" {
		t.Errorf("after two beats the gate shows %q", got)
	}
}

// TestBrowserStale stops the server under an open page: within two seconds of
// silence CLEAR has become HOLD, and after five the band tells the picture's
// age. When the server is back, the page is well again by itself.
func TestBrowserStale(t *testing.T) {
	f := fullSource()
	f.changes = make(chan uint64)
	addr, stop := run(t, f, "127.0.0.1:0")
	ctx := browse(t, 1280, 800)
	open(t, ctx, "http://"+addr, "/booth/b1")
	await(t, ctx, shown+` === "CLEAR"`)
	if eval[bool](t, ctx, `document.getElementById("band").offsetHeight > 0`) {
		t.Error("the band stands over a live picture")
	}
	eval[bool](t, ctx, `(() => {
		const sign = () => `+shown+`;
		setInterval(() => {
			if (sign() !== "CLEAR") window.held = window.held || performance.now();
			const band = document.getElementById("band");
			if (band.offsetHeight > 40 && !window.banded) {
				window.banded = performance.now();
				window.bandSaid = band.innerText;
			}
		}, 10);
		return true;
	})()`)
	stop()
	// The page's own watch comes round every 10 ms, and keeps what the band said
	// first: a busy machine may read it seconds later.
	await(t, ctx, `window.banded > 0`)
	if early := eval[float64](t, ctx, `window.banded - window.held`); early < 2000 {
		t.Errorf("HOLD stood %.0f ms before the band, want more than three seconds and a little less for a machine that is busy", early)
	}
	band := eval[string](t, ctx, `window.bandSaid`)
	for _, want := range []string{"Picture is 5 s old", "HOLD", "see whether the shop's program runs"} {
		if !strings.Contains(band, want) {
			t.Errorf("the band says %q, not %q", band, want)
		}
	}
	if got := eval[string](t, ctx, shown); got != "HOLD, state not known" {
		t.Errorf("on a stale picture the gate shows %q", got)
	}
	if eval[bool](t, ctx, `document.body.innerText.includes("You may spray")`) {
		t.Error("a stale picture still says that one may spray")
	}
	const folds = `[...document.querySelectorAll(".booth-foot summary")]`
	if n := eval[int](t, ctx, folds+`.length`); n == 0 || n != eval[int](t, ctx, folds+`.filter((e) => e.getAttribute("aria-disabled") === "true" && getComputedStyle(e).cursor === "not-allowed").length`) {
		t.Errorf("of %d fold-outs some are offered on a stale picture", n)
	}
	eval[bool](t, ctx, folds+`.forEach((e) => e.click()) === undefined`)
	if eval[bool](t, ctx, `document.querySelector(".booth-foot details[open]") !== null`) {
		t.Error("a fold-out opens on a stale picture")
	}
	await(t, ctx, `parseInt(document.getElementById("band-age").textContent) >= 7`)
	run(t, f, addr)
	await(t, ctx, shown+` === "CLEAR" && document.getElementById("band").offsetHeight === 0`)
	await(t, ctx, folds+`.every((e) => !e.hasAttribute("aria-disabled"))`)
}

// run serves on an address of its own until it is stopped, cutting every
// connection, as when the machine dies.
func run(t *testing.T, f *fakeSource, addr string) (bound string, stop func()) {
	t.Helper()
	l, err := net.Listen("tcp", addr)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	srv := &http.Server{Handler: New(ctx, f, Options{Beat: 200 * time.Millisecond, Log: quiet()}), ReadHeaderTimeout: 5 * time.Second}
	go func() { _ = srv.Serve(l) }()
	stop = func() { cancel(); srv.Close() }
	t.Cleanup(stop)
	return l.Addr().String(), stop
}

// TestBrowserClocksRun runs the shop's clock at 120 times the pace: countdown,
// now line and wall clock move, and a nozzle whose time is over says so
// without another word from the server.
func TestBrowserClocksRun(t *testing.T) {
	f := fullSource()
	f.bay.Speed, f.board.Speed = 120, 120
	site := serveBeating(t, f, time.Hour)
	ctx := browse(t, 820, 1180)
	open(t, ctx, site.URL, seamPath)
	await(t, ctx, `document.querySelector("#nozzle h2 span span").textContent.startsWith("2:")`)
	await(t, ctx, `document.getElementById("nozzle").classList.contains("nozzle-may") && document.querySelector("#nozzle h2").innerText === "Nozzle may have gelled"`)
	must(t, ctx, chromedp.Navigate(site.URL+"/board"))
	await(t, ctx, `document.getElementById("clock").textContent === "10:46"`)
	if x := eval[float64](t, ctx, `parseFloat(document.querySelector("#nowline line").getAttribute("x1"))`); x < 15 || x > 18 {
		t.Errorf("at 10:46 of 10:00 to 15:00 the now line stands at %.2f %%, want 15.33 and a little", x)
	}
}

// TestBrowserOpenSheetStays keeps a fold-out open, with what was typed, while
// its part changes underneath.
func TestBrowserOpenSheetStays(t *testing.T) {
	f := fullSource()
	site := serve(t, f)
	ctx := browse(t, 820, 1180)
	open(t, ctx, site.URL, seamPath)
	await(t, ctx, `window.beats > 1`)
	must(t, ctx, chromedp.Click(chromedp.CSS("#else summary")))
	must(t, ctx, chromedp.SendKeys(chromedp.CSS(`#else form[data-kind="disturbed"] input[type="text"]`), "sleeve touched it"))
	f.set(func(f *fakeSource) {
		s, n := *f.bay.Seam, *f.bay.Nozzle
		s.Else, n.LeftML = s.Else[:2], known(84)
		f.bay.Seam, f.bay.Nozzle = &s, &n
	})
	f.changes <- 412
	await(t, ctx, `document.getElementById("nozzle").textContent.includes("84 ml")`)
	if got := eval[string](t, ctx, `document.querySelector("#else details[open] form[data-kind=disturbed] input[type=text]").value`); got != "sleeve touched it" {
		t.Errorf("what was typed has become %q", got)
	}
	must(t, ctx, chromedp.Click(chromedp.CSS(`#else form[data-kind="disturbed"] button`)))
	await(t, ctx, `location.search.startsWith("?said=")`)
	if a := f.done(); len(a) != 1 || a[0].Kind != DoDisturbed || a[0].Fields["reason"] != "sleeve touched it" {
		t.Errorf("the Source got %+v", a)
	}
}

// The script's own times: HOLD within two seconds of silence, and two words of
// a page that shows a gate may be late for it.
func TestTheScriptHoldsWithinTwoSeconds(t *testing.T) {
	js, err := assetFiles.ReadFile("assets/seamwright.js")
	if err != nil {
		t.Fatal(err)
	}
	ms := func(name string) time.Duration {
		m := regexp.MustCompile(`const ` + name + ` = (\d+);`).FindSubmatch(js)
		if m == nil {
			t.Fatalf("the script has no %s", name)
		}
		n, err := strconv.Atoi(string(m[1]))
		if err != nil {
			t.Fatal(err)
		}
		return time.Duration(n) * time.Millisecond
	}
	hold, watch := ms("HOLD_MS"), ms("WATCH_MS")
	if hold+watch >= 2*time.Second {
		t.Errorf("HOLD after %s of silence, looked at each %s", hold, watch)
	}
	for _, kind := range []string{"board", "booth"} {
		if word := (Options{Beat: defaultBeat}).each(ref{Kind: kind}); hold <= 3*word {
			t.Errorf("the %s holds after %s, a word comes each %s", kind, hold, word)
		}
	}
	if word := (Options{Beat: defaultBeat}).each(ref{Kind: "bay"}); word != time.Second {
		t.Errorf("a page without a gate is told each %s, want a second", word)
	}
}
