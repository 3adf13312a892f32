package console_test

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"seamwright/services/console"
	"seamwright/services/fault"
)

// week is a problem of 40 loads in two booths, five days of ten hours.
func week(t *testing.T) string {
	t.Helper()
	d := rand.New(rand.NewPCG(3, 1))
	start := time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC)
	at := func(day, hour int) string {
		return start.AddDate(0, 0, day).Add(time.Duration(hour) * time.Hour).Format(time.RFC3339)
	}
	var open [][2]string
	for day := range 5 {
		open = append(open, [2]string{at(day, 0), at(day, 10)})
	}
	colours := []string{"white", "red", "blue", "silver", "green"}
	setups := map[string]map[string]int{}
	for _, a := range colours {
		setups[a] = map[string]int{}
		for _, b := range colours {
			if a != b {
				setups[a][b] = 25
			} else {
				setups[a][b] = 0
			}
		}
	}
	type object map[string]any
	booths := []object{{"id": "booth-1", "colour": "white", "open": open}, {"id": "booth-2", "colour": "white", "open": open}}
	var loads, tasks []object
	for i := range 40 {
		id := fmt.Sprintf("%d-A", 2200+i)
		due := at(d.IntN(5), []int{5, 9, 10}[d.IntN(3)])
		l := object{
			"id": id, "booths": []string{"booth-1", "booth-2"}, "colour": colours[d.IntN(5)], "process_min": 60 + 15*d.IntN(3),
			"due": due, "weight": 1 + d.IntN(2), "tail_min": 60, "miss_cost": 300,
		}
		switch {
		case i == 7:
			l["frozen"], l["booths"] = object{"booth": "booth-2", "start": at(0, 1)}, []string{"booth-2"}
		case i == 8:
			l["latest_start"] = at(0, -1) // missed wherever it stands
		case i == 9:
			l["process_min"] = 700 // fits into no day
		case i%4 == 0:
			tasks = append(tasks, object{"id": fmt.Sprintf("T%d", i), "load": id, "crew": "bay 1", "minutes": 30, "min_lag_min": 60})
		}
		loads = append(loads, l)
	}
	b, err := json.Marshal(object{
		"start": at(0, 0), "booths": booths, "setup_min": setups, "loads": loads, "tasks": tasks,
		"crews": object{"bay 1": object{"people": 2, "open": open}},
	})
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "week.json")
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func drawn(t *testing.T, file string) string {
	t.Helper()
	var out bytes.Buffer
	err := console.Plan{File: file, Budget: "200ms", Seed: "1", SVG: true}.Run(console.Out{W: &out})
	if err != nil && !fault.Is(err, "no-place") {
		t.Fatal(err)
	}
	return out.String()
}

// texts are what an SVG document writes, and an error when it is not one.
func texts(svg string) (out []string, err error) {
	dec := xml.NewDecoder(strings.NewReader(svg))
	in := false
	for {
		tok, err := dec.Token()
		if errors.Is(err, io.EOF) {
			return out, nil
		}
		if err != nil {
			return nil, err
		}
		switch x := tok.(type) {
		case xml.StartElement:
			in = x.Name.Local == "text"
		case xml.EndElement:
			in = false
		case xml.CharData:
			if in {
				out = append(out, string(x))
			}
		}
	}
}

// The drawing of 40 loads names each of them, says when its car is due, what
// its marks mean, and which day it is.
func TestADrawnPlanNamesEverything(t *testing.T) {
	svg := drawn(t, week(t))
	said, err := texts(svg)
	if err != nil {
		t.Fatalf("%v in %s", err, svg)
	}
	all := "\n" + strings.Join(said, "\n") + "\n"
	for i := range 40 {
		id := fmt.Sprintf("%d-A", 2200+i)
		if i != 9 && !strings.Contains(all, "\n"+id+"\n") {
			t.Errorf("no bar is named %s", id)
		}
		if !regexp.MustCompile(`\n(\d+-A, )*` + id + `(, \d+-A)*\n`).MatchString(all) {
			t.Errorf("no mark says when %s is due", id)
		}
	}
	for _, want := range []string{
		"Plan of the paint booths from 2 Mar 2026 07:00 UTC", "Mon 2 Mar 2026", "Tue 3 Mar 2026", "Wed 4 Mar 2026", "07:00", "booth-1", "booth-2", "bay 1",
		"booth open", "setup", "load", "late", "window missed", "frozen", "work before", "car due, with the loads",
	} {
		if !strings.Contains(all, "\n"+want+"\n") {
			t.Errorf("nothing says %q", want)
		}
	}
	if !strings.Contains(all, "\nWithout a place: 2209-A (") || !strings.Contains(all, ", missed\n") || !strings.Contains(all, ", frozen\n") {
		t.Errorf("what has no place, is missed or frozen is not told: %s", all)
	}
}

// In a browser no text of the drawing lies on another one, and all of it is on
// the page.
func TestADrawnPlanIsReadable(t *testing.T) {
	browser, err := exec.LookPath("chromium")
	switch {
	case testing.Short():
		t.Skip("BROWSER TEST NOT RUN: -short was asked for")
	case err != nil && os.Getenv("CI") != "":
		t.Fatal("no Chromium on this machine although CI is set: install the package chromium")
	case err != nil:
		t.Skip("BROWSER TEST NOT RUN: no Chromium on this machine; install the package chromium to run it")
	}
	const script = `<script>
		const all = [...document.querySelectorAll('svg text')].map(e => [e.textContent, e.getBoundingClientRect()]);
		const page = document.querySelector('svg').getBoundingClientRect();
		let bad = [];
		all.forEach(([a, r], i) => {
			if (r.left < page.left || r.right > page.right + 1 || r.bottom > page.bottom || r.width == 0) bad.push(a + ' is off the page');
			all.slice(i + 1).forEach(([b, s]) => {
				if (r.left + 1 < s.right && s.left + 1 < r.right && r.top + 3 < s.bottom && s.top + 3 < r.bottom) bad.push(a + ' lies on ' + b);
			});
		});
		document.body.innerHTML = '<p id="n">' + all.length + ' texts</p><p id="bad">' + bad.join('; ') + '</p>';
	</script>`
	page := filepath.Join(t.TempDir(), "plan.html")
	if err := os.WriteFile(page, []byte("<!doctype html><meta charset=utf-8><body style='margin:0'>"+drawn(t, week(t))+script), 0o600); err != nil {
		t.Fatal(err)
	}
	dom, err := exec.CommandContext(t.Context(), browser, "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage",
		"--user-data-dir="+t.TempDir(), "--dump-dom", "file://"+page).Output()
	if err != nil {
		t.Fatal(err)
	}
	got := string(dom)
	if !strings.Contains(got, `<p id="bad"></p>`) || !regexp.MustCompile(`<p id="n">[0-9]{3} texts</p>`).MatchString(got) {
		t.Errorf("the browser says %s", got[strings.Index(got, "<body"):])
	}
}

// A drawing and figures cannot both stand on standard output.
func TestADrawingIsNoJSON(t *testing.T) {
	err := console.Plan{File: week(t), Budget: "1ms", Seed: "1", SVG: true}.Run(console.Out{W: io.Discard, JSON: true})
	if fault.KindOf(err) != fault.Invalid || !strings.HasPrefix(err.Error(), "--svg: beside --json: ") {
		t.Errorf("%v", err)
	}
}
