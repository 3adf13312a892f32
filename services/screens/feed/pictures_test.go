package feed_test

import (
	"os"
	"path/filepath"
	"testing"
	"time"

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
	s := open(t, app.Options{Screens: "127.0.0.1:0"}, true)
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
	shoot(t, tablet, filepath.Join(out, "bay-plan.png"), origin+"/bay/2207/rpf")
	shoot(t, tablet, filepath.Join(out, "bay-decide.png"), origin+"/bay/2207/wh-in-l")
	shoot(t, tablet, filepath.Join(out, "bay-index.png"), origin+"/")
}

// work brings a seam as far as a technician can: until nothing is left to
// press.
func (s *shop) work(ro, seam string) {
	s.t.Helper()
	for range 16 {
		p := s.bay(bay1, ro, seam).Seam
		if p.Next == nil || p.Next.Kind == screens.DoPlan && len(p.Next.Asks) > 0 {
			return
		}
		r := s.press(technician, bay1, ro, seam, p.Next, nil)
		s.t.Log(s.time.Now().Format("15:04"), ro, seam, p.Do, "->", r.Said, r.Findings)
		s.wait(45 * time.Second)
	}
}
