package feed_test

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/app"
	"seamwright/services/screens"
)

// TestPictures runs a morning of the demonstration shop and writes pictures
// of its screens into the folder that SCREENS_PICTURES names, for a person to
// look at.
func TestPictures(t *testing.T) {
	out := os.Getenv("SCREENS_PICTURES")
	if out == "" {
		t.Skip("set SCREENS_PICTURES to a folder to get pictures of a running shop")
	}
	s := open(t, app.Options{Screens: "127.0.0.1:0", Plan: true}, true)
	origin := "http://" + s.app.Addr().Screens
	s.until(at(8, 10))
	for _, x := range [][2]string{{"2198", "sdh-l"}, {"2198", "rp-l"}, {"2198", "sill-l"}, {"2198", "rd-l"}, {"2198", "wh-l"}, {"2198", "rpf"}, {"2198", "cf-l"}} {
		s.work(x[0], x[1])
	}
	s.until(at(9, 30))
	for _, x := range [][2]string{{"2207", "rd-l"}, {"2207", "rd-r"}, {"2207", "dh-lf"}} {
		s.work(x[0], x[1])
	}
	wall, tablet, booth := browse(t, 1920, 1080), browse(t, 820, 1180), browse(t, 1280, 800)
	signIn(t, booth, origin, "booth-screen", painter)
	signIn(t, tablet, origin, bay1, technician)
	shoot(t, wall, filepath.Join(out, "board.png"), origin+"/board")
	shoot(t, booth, filepath.Join(out, "booth.png"), origin+"/booth/booth-1")
	shoot(t, tablet, filepath.Join(out, "bay-cars.png"), origin+"/bay")
	shoot(t, tablet, filepath.Join(out, "bay-seams.png"), origin+"/bay/2207")
	shoot(t, tablet, filepath.Join(out, "bay-flowing.png"), origin+"/bay/2207/rd-l")
	shoot(t, tablet, filepath.Join(out, "bay-prep.png"), origin+"/bay/2207/rpf")
	shoot(t, tablet, filepath.Join(out, "bay-decide.png"), origin+"/bay/2207/wh-in-l")

	s.bring(floorv1.Coat_COAT_SOLVENTBORNE)
	for _, what := range []string{"take the plan", "prep", "take the old nozzle off", "fit a nozzle: round tip cut at 14 mm", "purge"} {
		s.big(ro, ditch, what, nil)
		s.wait(30 * time.Second)
	}
	page := origin + "/bay/" + ro + "/" + ditch
	shoot(t, tablet, filepath.Join(out, "bay-lay.png"), page)
	s.big(ro, ditch, "lay the bead", nil)
	shoot(t, tablet, filepath.Join(out, "bay-deair.png"), page)
	s.big(ro, ditch, "take the trapped air out", nil)
	opens, _ := s.bounds()
	s.until(opens.DueCold.Add(time.Minute))
	s.bay(bay1, ro, ditch)
	shoot(t, booth, filepath.Join(out, "booth-ready.png"), origin+"/booth/booth-1")
	shoot(t, booth, filepath.Join(out, "desk.png"), origin+"/plan?what=close&booth=booth-1&to=12:00")
	_, err := s.atBooth(painter, "booth-1", s.booth("booth-1").Request, nil)
	must(t, err)
	shoot(t, booth, filepath.Join(out, "booth-clear.png"), origin+"/booth/booth-1")
	_, err = s.atBooth(painter, "booth-1", s.booth("booth-1").Start, nil)
	must(t, err)
	s.wait(20 * time.Minute)
	shoot(t, booth, filepath.Join(out, "booth-spraying.png"), origin+"/booth/booth-1")
	_, err = s.atBooth(painter, "booth-1", s.booth("booth-1").Request, nil)
	must(t, err)
	_, err = s.atBooth(painter, "booth-1", s.booth("booth-1").Request, nil)
	must(t, err)
	b := s.bay(bay1, "2207", "rd-r").Seam
	for i := range b.Else {
		if b.Else[i].Kind == screens.DoDisturbed {
			s.press(technician, bay1, "2207", "rd-r", &b.Else[i], map[string]string{"reason": "a sleeve touched it"})
		}
	}
	s.wait(6 * time.Minute)
	shoot(t, tablet, filepath.Join(out, "bay-held.png"), origin+"/bay/2207/rd-r")
	shoot(t, tablet, filepath.Join(out, "bay-wait.png"), page)
	shoot(t, tablet, filepath.Join(out, "bay-open.png"), origin+"/bay/2198/rp-l")
	shoot(t, wall, filepath.Join(out, "board-later.png"), origin+"/board")
	shoot(t, booth, filepath.Join(out, "booth-baking.png"), origin+"/booth/booth-1")
	_, err = s.atBooth(painter, "booth-1", s.booth("booth-1").Finish, nil)
	must(t, err)
	s.wait(2 * time.Minute)
	do(t, booth, chromedp.Navigate(origin+"/booth/booth-1"), chromedp.Click(chromedp.CSS(".else summary")))
	snap(t, booth, filepath.Join(out, "booth-more.png"))
	do(t, tablet, chromedp.EmulateViewport(820, 2600), chromedp.Navigate(origin+"/bay/2207/rd-r"), chromedp.Click(chromedp.CSS("#else summary")))
	snap(t, tablet, filepath.Join(out, "bay-else.png"))
}

// TestPicturesOfTrouble does the same for what seldom happens: another colour
// in the gun, a silent probe of a bay that the car has left, the desk's question
// about another day, and a permit that was taken back.
func TestPicturesOfTrouble(t *testing.T) {
	out := os.Getenv("SCREENS_PICTURES")
	if out == "" {
		t.Skip("set SCREENS_PICTURES to a folder to get pictures of a running shop")
	}
	s := open(t, app.Options{Screens: "127.0.0.1:0", Plan: true}, true)
	origin := "http://" + s.app.Addr().Screens
	booth := browse(t, 1280, 800)
	signIn(t, booth, origin, "booth-screen", painter)
	s.until(at(8, 0))
	s.ripen()
	s.gunIsWhite()
	shoot(t, booth, filepath.Join(out, "booth-gun.png"), origin+"/booth/booth-1")
	s.mute["bay-1"] = true
	s.wait(20 * time.Minute)
	s.told(&jobsv1.CarMoved{Ro: ro, ZoneId: "bay-2"})
	shoot(t, booth, filepath.Join(out, "booth-left.png"), origin+"/booth/booth-1")
	shoot(t, booth, filepath.Join(out, "desk-day.png"), origin+"/plan")
	s.mute["bay-1"] = false
	s.wait(32 * time.Minute)
	_, err := s.atBooth(painter, "booth-1", s.booth("booth-1").Request, map[string]string{"confirmed": "yes"})
	must(t, err)
	s.told(&jobsv1.BeadDisturbed{SeamId: ro + "/" + ditch, How: "a sleeve brushed it"})
	s.wait(time.Minute)
	shoot(t, booth, filepath.Join(out, "booth-lost.png"), origin+"/booth/booth-1")
}

// snap writes a picture of what a page shows now.
func snap(t *testing.T, page context.Context, file string) {
	t.Helper()
	png, err := chromedp.Run(page, chromedp.CaptureScreenshot())
	must(t, err)
	must(t, os.WriteFile(file, png, 0o644))
}

// work brings a seam as far as a technician can: until nothing is left to
// press.
func (s *shop) work(ro, seam string) {
	s.t.Helper()
	for range 16 {
		p := s.bay(bay1, ro, seam).Seam
		if p.Next == nil || p.Next.Kind == screens.DoPlan && len(p.Next.Asks) > 0 || slices.ContainsFunc(p.Next.Asks, unanswered) {
			return
		}
		r := s.press(technician, bay1, ro, seam, p.Next, nil)
		s.t.Log(s.time.Now().Format("15:04"), ro, seam, p.Do, "->", r.Said, r.Findings)
		s.wait(45 * time.Second)
	}
}

// unanswered is a field that somebody at the car must fill in.
func unanswered(a screens.Ask) bool { return a.Need && (a.Value == "" || a.Value == "unknown") }
