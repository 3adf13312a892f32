package feed_test

import (
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"seamwright/services/app"
	"seamwright/services/screens"
)

// cutOff lists what does not stand whole on a screen: a page to be scrolled,
// a row below the ground it stands on.
const cutOff = `(() => {
	const out = [], high = window.innerHeight, ground = document.querySelector(".chart, .booth-foot").getBoundingClientRect();
	const limit = document.querySelector(".chart") ? ground.bottom : ground.top;
	if (document.documentElement.scrollHeight > high) out.push("page is " + document.documentElement.scrollHeight + " high");
	for (const e of document.querySelectorAll(".jobs .row, .rows > li")) {
		const r = e.getBoundingClientRect();
		if (r.bottom > limit + 0.5) out.push(e.textContent.trim().slice(0, 30) + " ends at " + Math.round(r.bottom) + ", limit " + Math.round(limit));
	}
	return out;
})()`

// TestBrowserDayFits works through the demonstration shop's seams and looks
// at the wall and at the booths again and again until the evening: at no
// moment is a row cut off, and every car is shown or named.
func TestBrowserDayFits(t *testing.T) {
	if testing.Short() {
		t.Skip("looks at two screens after every fact of a day")
	}
	chromium(t)
	s := open(t, app.Options{Screens: "127.0.0.1:0"}, true)
	origin := "http://" + s.app.Addr().Screens
	wall, booth := browse(t, 1920, 1080), browse(t, 1280, 800)
	most := 0
	look := func() {
		t.Helper()
		for _, x := range []struct {
			page string
			ctx  func() ([]string, error)
		}{
			{"/board", func() ([]string, error) {
				do(t, wall, chromedp.Navigate(origin+"/board"))
				await(t, wall, `document.fonts.status === "loaded"`)
				return chromedp.Run(wall, chromedp.Evaluate[[]string](cutOff))
			}},
			{"/booth/booth-1", func() ([]string, error) {
				do(t, booth, chromedp.Navigate(origin+"/booth/booth-1"))
				await(t, booth, `document.fonts.status === "loaded"`)
				return chromedp.Run(booth, chromedp.Evaluate[[]string](cutOff))
			}},
		} {
			got, err := x.ctx()
			must(t, err)
			if len(got) > 0 {
				t.Errorf("%s at %s: %s", x.page, s.time.Now().Format("15:04"), strings.Join(got, "; "))
			}
		}
		text, err := chromedp.Run(wall, chromedp.Evaluate[string](`document.getElementById("jobs").textContent`))
		must(t, err)
		seams := 0
		for _, j := range s.board().Jobs {
			seams += len(j.Seams)
			if !strings.Contains(text, j.RO) {
				t.Errorf("at %s car %s is neither shown nor named", s.time.Now().Format("15:04"), j.RO)
			}
		}
		most = max(most, seams)
	}
	s.until(at(7, 40))
	look()
	for n, id := range firstFew(s.board(), 3) {
		s.work(id[0], id[1])
		if n%5 == 4 {
			look()
		}
	}
	for _, hour := range []int{14, 17, 20} {
		if s.time.Now().Before(at(hour, 0)) {
			s.until(at(hour, 0))
		}
		look()
	}
	if most < 50 {
		t.Errorf("the wall had %d seams at most, want a crowded one of 50 or more", most)
	}
	if s.time.Now().Sub(morning) < 10*time.Hour {
		t.Errorf("the day ended at %s", s.time.Now().Format("15:04"))
	}
}

// firstFew are some seams of each car, a car after the other: its job and the
// rest of its identifier.
func firstFew(b screens.Board, most int) (out [][2]string) {
	for i := range most {
		for _, j := range b.Jobs {
			if i < len(j.Seams) {
				_, seam, _ := strings.Cut(j.Seams[i].ID, ".")
				out = append(out, [2]string{j.RO, seam})
			}
		}
	}
	return out
}
