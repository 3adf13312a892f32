package screens

import (
	"math"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// wallMeasure tells in rem how high the wall's jobs are, how much room they
// have above the key, and the lowest edge of any row against the chart's.
const wallMeasure = `(() => {
	const rem = parseFloat(getComputedStyle(document.documentElement).fontSize);
	const chart = document.querySelector(".chart").getBoundingClientRect();
	const lanes = document.getElementById("lanes").getBoundingClientRect();
	const rows = [...document.querySelectorAll(".jobs .row, .jobs .job")].map((e) => e.getBoundingClientRect().bottom);
	const jobs = document.getElementById("jobs").getBoundingClientRect();
	return {
		room: (chart.bottom - lanes.bottom) / rem, lanes: lanes.height / rem, jobs: (Math.max(jobs.top, ...rows) - jobs.top) / rem,
		over: Math.max(0, ...rows) - chart.bottom, page: document.documentElement.scrollHeight - window.innerHeight,
	};
})()`

type wallSize struct {
	Room, Lanes, Jobs float64
	Over, Page        float64
}

// TestBrowserWallHolds measures every wall of the gallery at 1920 x 1080 and
// at other shapes of a wide screen: no row is cut off, nothing is scrolled,
// and the heights that the fit reckons with are those of the style sheet.
func TestBrowserWallHolds(t *testing.T) {
	site := serve(t, &fakeSource{})
	ctx := browse(t, 1920, 1080)
	for _, size := range [][2]int64{{1920, 1080}, {3840, 2160}, {1366, 768}, {2560, 1080}, {1280, 800}} {
		must(t, ctx, chromedp.EmulateViewport(size[0], size[1]))
		for _, e := range Gallery() {
			if !strings.HasPrefix(e.Name, "board-") {
				continue
			}
			must(t, ctx, chromedp.Navigate(site.URL+"/gallery/"+e.Name))
			await(t, ctx, `document.fonts.status === "loaded"`)
			m := eval[wallSize](t, ctx, wallMeasure)
			if m.Over > 0.5 || m.Page > 0 {
				t.Errorf("%s at %v: rows run %.1f px over, the page %.0f px", e.Name, size, m.Over, m.Page)
			}
			eval[bool](t, ctx, `document.documentElement.classList.toggle("stale", true)`)
			if old := eval[wallSize](t, ctx, wallMeasure); old.Over > 0.5 || old.Page > 0 {
				t.Errorf("%s at %v, once it is old: rows run %.1f px over, the page %.0f px", e.Name, size, old.Over, old.Page)
			}
			if size[0] != 1920 || e.Name == "board-stale" {
				continue
			}
			if free := wallFree - m.Lanes; free > m.Room || free < m.Room-0.4 {
				t.Errorf("%s: the fit reckons with %.2f rem for jobs, the wall has %.2f", e.Name, free, m.Room)
			}
		}
	}
}

// TestBrowserRowHeights: each density takes the height that the fit reckons.
func TestBrowserRowHeights(t *testing.T) {
	site := serve(t, &fakeSource{})
	ctx := browse(t, 1920, 1080)
	for _, x := range []struct {
		name  string
		board Board
	}{
		{"board-busy", galleryBoard()},
		{"board-full", galleryBoardFull()},
		{"board-crowded", galleryBoardCrowded()},
		{"board-overfull", galleryBoardOverfull()},
	} {
		w := fit(x.board.Jobs, wallFree-laneSpace-laneHigh*float64(laneRows(x.board)), clock{now: x.board.Now})
		must(t, ctx, chromedp.Navigate(site.URL+"/gallery/"+x.name))
		await(t, ctx, `document.fonts.status === "loaded"`)
		m := eval[wallSize](t, ctx, wallMeasure)
		if want := wallHigh(w); m.Jobs > want+0.02 || math.Abs(m.Jobs-want) > 0.3 {
			t.Errorf("%s (%s): the jobs are %.2f rem high, reckoned %.2f", x.name, w.density, m.Jobs, want)
		}
	}
}

// TestBrowserBoothHolds: at 1280 x 800 no row of a booth's list runs under
// its foot, and none of its texts is smaller than 18 px.
func TestBrowserBoothHolds(t *testing.T) {
	site := serve(t, &fakeSource{})
	ctx := browse(t, 1280, 800)
	for _, e := range Gallery() {
		if !strings.HasPrefix(e.Name, "booth-") {
			continue
		}
		must(t, ctx, chromedp.Navigate(site.URL+"/gallery/"+e.Name))
		await(t, ctx, `document.fonts.status === "loaded"`)
		got := eval[[]float64](t, ctx, `(() => {
			const foot = document.querySelector(".booth-foot").getBoundingClientRect().top;
			const low = [...document.querySelectorAll(".rows > li, .order")].map((e) => e.getBoundingClientRect().bottom);
			return [Math.max(0, ...low) - foot, document.documentElement.scrollHeight - window.innerHeight];
		})()`)
		if got[0] > 0 || got[1] > 0 {
			t.Errorf("%s: the list runs %.0f px under the foot, the page %.0f px over", e.Name, got[0], got[1])
		}
	}
}

// TestBrowserCautionsSeen: on the tablet the cautions of a step stand whole
// between what is to be done and its button, however long the page is.
func TestBrowserCautionsSeen(t *testing.T) {
	site := serve(t, &fakeSource{})
	ctx := browse(t, 820, 1180)
	seen := 0
	for _, e := range Gallery() {
		if !strings.HasPrefix(e.Name, "bay-") {
			continue
		}
		must(t, ctx, chromedp.Navigate(site.URL+"/gallery/"+e.Name))
		await(t, ctx, `document.fonts.status === "loaded"`)
		got := eval[[]float64](t, ctx, `(() => {
			const c = document.getElementById("cautions"), big = document.getElementById("big");
			if (!c) return [];
			const r = c.getBoundingClientRect();
			const top = Math.max(0, document.getElementById("nozzle").getBoundingClientRect().bottom);
			const size = Math.min(...[...c.querySelectorAll("p")].map((p) => parseFloat(getComputedStyle(p).fontSize)));
			const at = document.elementFromPoint(r.left + 20, r.bottom - 4);
			return [r.top - top, (big ? big.getBoundingClientRect().top : window.innerHeight) - r.bottom, size, c.contains(at) ? 1 : 0];
		})()`)
		if len(got) == 0 {
			continue
		}
		seen++
		if got[0] < 0 || got[1] < 0 || got[2] < 20 || got[3] != 1 {
			t.Errorf("%s: cautions %.0f px below the head, %.0f px above the button, letters of %.0f px, uncovered %v", e.Name, got[0], got[1], got[2], got[3] == 1)
		}
	}
	if seen < 5 {
		t.Errorf("only %d pages of a seam were looked at", seen)
	}
}
