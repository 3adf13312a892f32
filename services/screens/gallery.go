package screens

import (
	"net/http"
	"time"

	"seamwright/services/fault"
)

// Exhibit is a screen of the gallery: a page from fixed data at the size
// that it was drawn for, in CSS pixels.
type Exhibit struct {
	Name, Title   string
	Width, Height int
	draw          func() (page, error)
}

// Gallery lists every screen of the gallery in order.
func Gallery() []Exhibit {
	wall := func(name, title string, b Board) Exhibit {
		return Exhibit{name, title, 1920, 1080, func() (page, error) {
			return drawBoard(b, ref{Kind: "board", Static: true})
		}}
	}
	booth := func(name, title string, b Booth) Exhibit {
		return Exhibit{name, title, 1280, 800, func() (page, error) {
			return drawBooth(b, ref{Kind: "booth", Booth: b.ID, Actor: "S. Thrushgate", Static: true, Viewer: "gallery"}, nil)
		}}
	}
	bay := func(name, title string, b Bay, said *Result) Exhibit {
		return Exhibit{name, title, 820, 1180, func() (page, error) {
			r := ref{Kind: "bay", Actor: "T. Orrable", Static: true, Viewer: "gallery"}
			if b.Job != nil {
				r.RO = b.Job.RO
			}
			if b.Seam != nil {
				r.RO, r.Seam = b.Seam.RO, b.Seam.ID
			}
			return drawBay(b, r, said)
		}}
	}
	desk := func(name, title string, p Plan) Exhibit {
		return Exhibit{name, title, 1280, 800, func() (page, error) {
			return drawPlan(p, ref{Kind: "plan", Static: true, Viewer: "gallery"}, nil)
		}}
	}
	sealing := func(name, title string, v Run) Exhibit {
		return Exhibit{name, title, 820, 1180, func() (page, error) {
			return drawRun(v, ref{Kind: "run", Static: true})
		}}
	}
	return []Exhibit{
		desk("plan-day", "Booth plan, a day's loads", galleryPlan()),
		desk("plan-answer", "Booth plan, a question answered", galleryPlanAnswer()),
		desk("plan-off", "Booth plan, nobody plans", galleryPlanOff()),
		wall("board-busy", "Board, a busy morning", galleryBoard()),
		wall("board-full", "Board, more seams than the wall holds", galleryBoardFull()),
		wall("board-crowded", "Board, five cars with 53 seams", galleryBoardCrowded()),
		wall("board-overfull", "Board, more cars than any wall holds", galleryBoardOverfull()),
		wall("board-empty", "Board, no car in work", galleryBoardEmpty()),
		wall("board-stale", "Board, the picture is old", galleryBoardStale()),
		wall("board-fault", "Board, nothing is being recorded", galleryBoardFault()),
		wall("board-gone", "Board, the shop's services are gone", galleryBoardGone()),
		booth("booth-hold", "Booth, hold for several reasons", galleryBoothHold()),
		booth("booth-crowded", "Booth, a load of nine seams, most of them ready", galleryBoothCrowded()),
		booth("booth-overfull", "Booth, more seams not ready than the screen holds", galleryBoothOverfull()),
		booth("booth-clear", "Booth, clear", galleryBoothClear()),
		booth("booth-override", "Booth, override", galleryBoothOverride()),
		booth("booth-unknown", "Booth, the shop's services are gone", galleryBoothUnknown()),
		booth("booth-fault", "Booth, the shop's disk is full", galleryBoothFault()),
		bay("bay-pick", "Bay, pick a car", galleryBayPick(), nil),
		bay("bay-seams", "Bay, the seams of a car", galleryBaySeams(), nil),
		bay("bay-lay", "Bay, lay the bead with the nozzle running", galleryBayLay(), nil),
		bay("bay-cautions", "Bay, a long step with many cautions", galleryBayCautions(), nil),
		bay("bay-gelled", "Bay, the nozzle may have gelled", galleryBayGelled(), nil),
		bay("bay-flowing", "Bay, laid and flowing", galleryBayFlowing(), &Result{Seq: 412, Said: "Bead laid at 10:43."}),
		bay("bay-hold", "Bay, a finding holds the seam", galleryBayHold(), &Result{Seq: 413, Said: "Bead laid at 10:43.", Findings: []string{
			"stop: the nozzle was past its gel time when the bead was laid; a foreman decides",
		}}),
		bay("bay-fault", "Bay, nothing is being recorded", galleryBayFault(), nil),
		bay("bay-doubt", "Bay, more told out of a cartridge than it held", galleryBayDoubt(), nil),
		bay("bay-finished", "Bay, finished", galleryBayFinished(), nil),
		sealing("run-bay", "Sealing run of a bay", galleryRun()),
		sealing("run-nothing", "Sealing run, nothing may be laid now", galleryRunNothing()),
		sealing("run-empty", "Sealing run, no seam is planned here", galleryRunEmpty()),
	}
}

func (s *server) gallery(w http.ResponseWriter, _ *http.Request) error {
	return plain(w, http.StatusOK, "Gallery", "gallery", Gallery())
}

func (s *server) galleryPage(w http.ResponseWriter, r *http.Request) error {
	for _, e := range Gallery() {
		if e.Name != r.PathValue("name") {
			continue
		}
		p, err := e.draw()
		if err != nil {
			return err
		}
		return write(w, http.StatusOK, "page", p)
	}
	return fault.Missing("gallery screen", r.PathValue("name"), "the list stands at /gallery")
}

// clockAt is a moment of the gallery's day, a Monday in a winter without
// summer time.
func clockAt(hour, minute int) time.Time {
	return time.Date(2026, time.March, 2, hour, minute, 0, 0, time.UTC)
}

func known(v float64) *float64 { return &v }

func galleryPicture() Picture {
	return Picture{Shop: "Harrow Street Body Works", Now: clockAt(10, 43), Speed: 1, Seq: 411, Live: true}
}
