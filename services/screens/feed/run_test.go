package feed_test

import (
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"google.golang.org/protobuf/proto"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/app"
	"seamwright/services/console"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// told records facts as the foreman at the desk.
func (s *shop) told(facts ...proto.Message) {
	s.t.Helper()
	for _, f := range facts {
		_, err := s.app.Desk().Record(s.t.Context(), floor.Command{Stamp: s.stamp(foreman, floorv1.Role_ROLE_FOREMAN, "desk"), Body: f}, (*floor.Floor).Decide)
		must(s.t, err)
	}
}

// readyToSeal is the shop with the blue hatchback in bay 1, two of its joints
// prepped, and a white sealer whose label names no activation energy.
func readyToSeal(t *testing.T, o app.Options) *shop {
	t.Helper()
	s := open(t, o, true)
	text, err := os.ReadFile(filepath.Join(folder, "products", "hb-white.yaml"))
	must(t, err)
	dir := t.TempDir()
	must(t, os.WriteFile(filepath.Join(dir, "hb-white.yaml"), []byte(strings.Replace(string(text), "  activation_energy_kj_mol: 52\n", "", 1)), 0o600))
	must(t, console.Import{At: console.At{Address: s.app.Addr().GRPC}, Products: dir}.Run(t.Context(), console.Out{W: io.Discard}))
	s.told(&jobsv1.CarMoved{Ro: "2207", ZoneId: "bay-1"})
	s.until(at(10, 0))
	for seam, on := range map[string]floorv1.Substrate{"2207/rpf": floorv1.Substrate_SUBSTRATE_E_COAT, "2207/rd-l": floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER} {
		s.told(&jobsv1.SurfacePrepped{SeamId: seam, Substrate: on})
	}
	return s
}

// A bay sees in which order to lay what it may, with what and why, and why the
// rest is left out.
func TestABaySeesItsSealingRun(t *testing.T) {
	s := readyToSeal(t, app.Options{})
	run := func(terminal string) screens.Run {
		t.Helper()
		v, err := s.src.Run(t.Context(), terminal)
		must(t, err)
		return v
	}
	v := run(bay1)
	if v.Zone != "Bay 1" || v.Wrong != "" || len(v.Steps) != 2 || v.Sum == "" || v.HotC == nil {
		t.Fatalf("%+v", v)
	}
	places := []string{v.Steps[0].Place, v.Steps[1].Place}
	slices.Sort(places)
	if !slices.Equal(places, []string{"Rear panel to floor", "Roof ditch L"}) {
		t.Errorf("steps %q", places)
	}
	for _, st := range v.Steps { // two products: each needs its own cartridge and nozzle
		if !strings.Contains(st.Change, "a new cartridge of lot L-") || !strings.Contains(st.Change, "fit nozzle ") || st.Why == "" || st.RO != "2207" {
			t.Errorf("step %+v", st)
		}
	}
	notPrepped := 0
	for _, l := range v.Left {
		if strings.Contains(l.Why, "not prepped") {
			notPrepped++
			if !slices.Contains(l.Seams, screens.RunSeam{Place: "Tailgate hem", RO: "2207"}) || len(l.Seams) < 2 {
				t.Errorf("not prepped: %+v", l.Seams)
			}
		}
	}
	if notPrepped != 1 {
		t.Errorf("one sentence %d times: %+v", notPrepped, v.Left)
	}
	if v.ReadC == nil || v.ReadAt.After(v.At) || v.At.Sub(v.ReadAt) > 15*time.Minute == !v.Stale || !strings.HasSuffix(v.Read(), " before") {
		t.Errorf("read %v at %v, planned at %v, stale %v: %s", v.ReadC, v.ReadAt, v.At, v.Stale, v.Read())
	}
	guessed := map[string]bool{}
	for _, p := range v.Products {
		guessed[p.Name] = p.Guessed
		if p.Label == "" || p.Fit != "nobody noted when a stage was reached; the desk tells it: seamwright tell stage-observed" {
			t.Errorf("product %+v", p)
		}
	}
	if want := map[string]bool{"Heavy-bodied white": true, "Self-levelling grey": false}; len(guessed) != 2 || !guessed["Heavy-bodied white"] || guessed["Self-levelling grey"] {
		t.Errorf("literature band of %v, want %v", guessed, want)
	}
	if b := s.bay(bay1, "2207", "rpf"); b.Seam == nil || b.Seam.Work == nil || !slices.ContainsFunc(b.Seam.Work.More, func(l screens.Line) bool { return l.Value == "literature band" }) {
		t.Errorf("the seam's own screen: %+v", b.Seam.Work)
	}
	if v := run("booth-screen"); len(v.Steps) != 0 {
		t.Errorf("in the booth: %+v", v)
	}
	if v := run("desk"); v.Wrong == "" {
		t.Errorf("a terminal that stands nowhere: %+v", v)
	}
	// Two round joints of one product, of 8 and 9 mm: one nozzle, cut between them.
	s.told(&jobsv1.SurfacePrepped{SeamId: "2207/bf", Substrate: floorv1.Substrate_SUBSTRATE_E_COAT}, &jobsv1.SurfacePrepped{SeamId: "2207/qw-l", Substrate: floorv1.Substrate_SUBSTRATE_EPOXY_PRIMER})
	v = run(bay1)
	i := slices.IndexFunc(v.Steps, func(st screens.RunStep) bool { return st.Place == "Boot floor joint" })
	if i < 1 || v.Steps[i].Change != "cut the tip to 9 mm" || v.Steps[i].Why != "" || v.Steps[i-1].Place != "Quarter to wheelhouse L" {
		t.Errorf("the wider joint: %+v", v.Steps)
	}
	if !strings.Contains(v.Sum, " ml taken: ") || !strings.Contains(v.Sum, " tooled off them, ") {
		t.Errorf("in all: %s", v.Sum)
	}
}

// What a nozzle holds is asked for where it is fitted, and may be left empty.
func TestANozzleIsFittedWithWhatItHolds(t *testing.T) {
	s := readyToSeal(t, app.Options{})
	next := func(want screens.Kind) *screens.Button {
		t.Helper()
		b := s.bay(bay1, "2207", "rpf").Seam.Next
		if b == nil || b.Kind != want {
			t.Fatalf("the button is %+v, want %s", b, want)
		}
		return b
	}
	for _, k := range []screens.Kind{screens.DoOpenCartridge, screens.DoEqualise} {
		s.press(technician, bay1, "2207", "rpf", next(k), nil)
	}
	big := next(screens.DoFitNozzle)
	if len(big.Asks) != 1 || big.Asks[0].Name != "hold_up_ml" || big.Asks[0].Need {
		t.Fatalf("the button asks %+v", big)
	}
	s.press(technician, bay1, "2207", "rpf", big, map[string]string{"hold_up_ml": "6.5"})
	s.press(technician, bay1, "2207", "rpf", next(screens.DoPurge), map[string]string{"volume_ml": "5"})
	s.look(func(f *floor.Floor) {
		c := f.Cartridge(f.Cartridges()[0])
		if got := c.Remaining.ML(); got > 200-6.5-5 || got < 200-6.5-5-3 { // and what equalising took
			t.Errorf("%g ml are left", got)
		}
	})
}

// On a tablet the run names the literature band where a label names no
// activation energy.
func TestBrowserSealingRun(t *testing.T) {
	chromium(t)
	s := readyToSeal(t, app.Options{Screens: "127.0.0.1:0"})
	origin := "http://" + s.app.Addr().Screens
	tablet := browse(t, 820, 1180)
	signIn(t, tablet, origin, bay1, technician)
	do(t, tablet, chromedp.Navigate(origin+"/bay"))
	await(t, tablet, `document.readyState === "complete" && document.querySelector('a[href="/run"]') !== null`)
	do(t, tablet, chromedp.Navigate(origin+"/run"))
	await(t, tablet, `document.readyState === "complete" && document.querySelector(".run-guess b")?.textContent === "literature band"`)
	for what, script := range map[string]string{
		"two seams in order":             `document.querySelectorAll(".run-seam").length === 2`,
		"a reason for each change":       `[...document.querySelectorAll(".run-change")].every(e => e.querySelector("small").textContent.length > 10)`,
		"what is left out":               `document.querySelector(".run-left").textContent.includes("not prepped")`,
		"how old the temperature is":     `/°C was read .* before/.test(document.querySelector(".run-warm").textContent)`,
		"no word that only we know":      `!document.body.textContent.includes("hot edge")`,
		"nothing is wider than the page": `document.documentElement.scrollWidth <= window.innerWidth`,
	} {
		if ok, err := chromedp.Run(tablet, chromedp.Evaluate[bool](script)); err != nil || !ok {
			t.Errorf("%s: %v, %v", what, ok, err)
		}
	}
	if dir := os.Getenv("SCREENS_PICTURES"); dir != "" {
		shoot(t, tablet, filepath.Join(dir, "run-live.png"), origin+"/run")
		shoot(t, tablet, filepath.Join(dir, "seam-literature.png"), origin+"/bay/2207/rpf")
	}
}
