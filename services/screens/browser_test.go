package screens

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// chromium finds the browser. Without one a browser test is skipped and says
// so; where CI is set, a machine that was meant to have it, it fails.
func chromium(t *testing.T) string {
	t.Helper()
	if testing.Short() {
		t.Skip("BROWSER TEST NOT RUN: -short was asked for")
	}
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
		chromedp.ExecPath(chromium(t)),
		chromedp.NoSandbox,
		chromedp.DisableGPU,
		chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-dev-shm-usage", true),
		chromedp.UserDataDir(t.TempDir()),
	)
	ctx, cancel := context.WithTimeout(context.Background(), 90*time.Second)
	t.Cleanup(cancel)
	ctx, stop := chromedp.NewExecAllocator(ctx, opts...)
	t.Cleanup(stop)
	ctx, shut := chromedp.NewContext(ctx)
	t.Cleanup(shut)
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(width, height)); err != nil {
		t.Fatalf("start the browser: %v", err)
	}
	return ctx
}

// TestGalleryPictures writes a picture of each gallery screen into the folder
// that SCREENS_PICTURES names, for a person to look at.
func TestGalleryPictures(t *testing.T) {
	folder := os.Getenv("SCREENS_PICTURES")
	if folder == "" {
		t.Skip("set SCREENS_PICTURES to a folder to get a picture of each gallery screen")
	}
	site := serve(t, &fakeSource{})
	for _, size := range []struct {
		suffix        string
		width, height int
	}{{"", 0, 0}, {"-phone", 390, 844}} {
		ctx := browse(t, 1920, 1080)
		for _, e := range Gallery() {
			w, h := e.Width, e.Height
			if size.width > 0 {
				w, h = size.width, size.height
			}
			resp, err := chromedp.RunResponse(ctx, chromedp.EmulateViewport(int64(w), int64(h)), chromedp.Navigate(site.URL+"/gallery/"+e.Name))
			if err != nil || resp.Status != 200 {
				t.Fatalf("%s: %v, %v", e.Name, resp, err)
			}
			shoot := chromedp.CaptureScreenshot()
			if size.width > 0 {
				shoot = chromedp.FullScreenshot(100)
			}
			png, err := chromedp.Run(ctx, shoot)
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(folder, e.Name+size.suffix+".png"), png, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
}
