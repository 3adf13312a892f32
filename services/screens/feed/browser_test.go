package feed_test

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	"seamwright/services/app"
)

// chromium finds the browser. Without one a browser test is skipped and says
// so; where CI is set, a machine that was meant to have it, it fails.
func chromium(t *testing.T) string {
	t.Helper()
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	if os.Getenv("CI") != "" {
		t.Fatal("no Chromium on this machine although CI is set: install the package chromium")
	}
	t.Skip("BROWSER TEST NOT RUN: no Chromium on this machine; install the package chromium to run it")
	return ""
}

// browse starts one browser with a fresh profile and one tab of the given
// size in CSS pixels.
func browse(t *testing.T, width, height int64) context.Context {
	t.Helper()
	opts := append(
		chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(chromium(t)), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-dev-shm-usage", true),
		chromedp.UserDataDir(t.TempDir()),
	)
	ctx, cancel := context.WithTimeout(context.Background(), 4*time.Minute)
	t.Cleanup(cancel)
	ctx, stop := chromedp.NewExecAllocator(ctx, opts...)
	t.Cleanup(stop)
	ctx, shut := chromedp.NewContext(ctx)
	t.Cleanup(shut)
	do(t, ctx, chromedp.EmulateViewport(width, height))
	return ctx
}

func do(t *testing.T, ctx context.Context, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	must(t, chromedp.Do(ctx, steps...))
}

// signIn picks a terminal and a name at the screen.
func signIn(t *testing.T, ctx context.Context, origin, terminal, name string) {
	t.Helper()
	do(t, ctx, chromedp.Navigate(origin+"/terminal"))
	for path, body := range map[string]string{"/terminal": "terminal=" + terminal, "/who": "name=" + name} {
		script := `fetch("` + path + `", {method: "POST", redirect: "manual", headers: {"Content-Type": "application/x-www-form-urlencoded"}, body: "` + body + `"}).then(() => true)`
		if _, err := chromedp.Run(ctx, chromedp.Evaluate[bool](script, chromedp.EvalAwaitPromise)); err != nil {
			t.Fatal(err)
		}
	}
}

// await polls until a condition holds in the page. A page that goes to
// another one meanwhile takes the question with it: it is asked again there.
func await(t *testing.T, ctx context.Context, condition string) {
	t.Helper()
	var err error
	for range 5 {
		_, err = chromedp.Run(ctx, chromedp.Poll[bool](condition, chromedp.WithPollingInterval(50*time.Millisecond), chromedp.WithPollingTimeout(20*time.Second)))
		if err == nil {
			return
		}
		if s := err.Error(); !strings.Contains(s, "context with specified id") && !strings.Contains(s, "context was destroyed") && !strings.Contains(s, "target navigated") {
			break
		}
	}
	t.Fatalf("waiting for %s: %v", condition, err)
}

// shoot writes a picture of a page.
func shoot(t *testing.T, ctx context.Context, file, url string) {
	t.Helper()
	do(t, ctx, chromedp.Navigate(url))
	await(t, ctx, `performance.now() > 2600 && document.fonts.status === "loaded"`)
	png, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
	must(t, err)
	must(t, os.MkdirAll(filepath.Dir(file), 0o755))
	must(t, os.WriteFile(file, png, 0o644))
}

// rested is true a second after a page has come up whole, on however busy a
// machine: by then it takes presses.
const rested = `document.readyState === "complete" && performance.now() - (window.completeAt ??= performance.now()) > 1000`

// TestBrowserBayToBoard presses the big button on a live tablet and sees the
// seam's row change on a wall that is not loaded again.
func TestBrowserBayToBoard(t *testing.T) {
	chromium(t)
	s := open(t, app.Options{Screens: "127.0.0.1:0"}, false)
	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	s.until(at(8, 0))
	origin := "http://" + s.app.Addr().Screens
	wall, tablet := browse(t, 1920, 1080), browse(t, 820, 1180)
	signIn(t, tablet, origin, bay1, technician)
	do(t, tablet, chromedp.Navigate(origin+"/bay/"+ro+"/"+ditch))
	do(t, wall, chromedp.Navigate(origin+"/board"))
	const onWall = `document.querySelector('[id^="row-2190_rd-l"]').textContent`
	await(t, wall, `!document.querySelector(".unproven") && `+onWall+`.includes("take the plan first")`)
	if _, err := chromedp.Run(wall, chromedp.Evaluate[bool](`window.loadedOnce = true`)); err != nil {
		t.Fatal(err)
	}
	for _, step := range []struct{ before, after, row string }{
		{"Take this plan", "Prepped", "prep first"},
		{"Prepped", "Cartridge opened", "prepped, epoxy primer"},
	} {
		await(t, tablet, rested+` && document.getElementById("big").textContent.includes("`+step.before+`")`)
		// A step that came up this very moment takes no press: a hand presses again.
		await(t, tablet, `(() => {
			const big = document.getElementById("big").textContent;
			if (big.includes("`+step.before+`") && performance.now() - (window.pressedAt ?? -9e9) > 2000) {
				window.pressedAt = performance.now();
				document.getElementById("big").click();
			}
			return big.includes("`+step.after+`");
		})()`)
		await(t, wall, onWall+`.includes("`+step.row+`") && window.loadedOnce === true`)
		await(t, tablet, `document.getElementById("big").textContent.includes("`+step.after+`")`)
	}
}
