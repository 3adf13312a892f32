package screens

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"html/template"
	"io/fs"
	"time"
)

//go:embed templates/*.html
var templateFiles embed.FS

//go:embed assets
var assetFiles embed.FS

// build names the pages' own bytes, so that a page that stands open for days
// learns that the program behind it changed.
var build = buildName()

func buildName() string {
	h := sha256.New()
	for _, files := range []embed.FS{templateFiles, assetFiles} {
		err := fs.WalkDir(files, ".", func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			b, err := files.ReadFile(path)
			h.Write([]byte(path))
			h.Write(b)
			return err
		})
		if err != nil {
			panic("screens: embedded files: " + err.Error()) // the program was built wrong
		}
	}
	return hex.EncodeToString(h.Sum(nil)[:4])
}

// placedAsk is a field with an element id of its own.
type placedAsk struct {
	ID  string
	Ask Ask
}

var templates = template.Must(template.New("").Funcs(template.FuncMap{
	"temp":         temp,
	"humid":        humid,
	"amount":       amount,
	"amountOf":     amountOf,
	"minutes":      minutes,
	"percent":      percent,
	"wholePercent": wholePercent,
	"upperFirst":   upperFirst,
	"markWord":     func(m any) string { return markWord(Mark(fmt.Sprint(m))) }, // a Mark, or a template's own word
	"nozzleView":   nozzleView,
	"hourMinute":   func(t time.Time) string { return t.Format("15:04") },
	"inc":          func(i int) int { return i + 1 },
	"build":        func() string { return build },
	"bayPath":      func(ro, seam string) string { return ref{Kind: "bay", RO: ro, Seam: seam}.Path() },
	"askView": func(b any, a Ask) placedAsk {
		label := ""
		switch b := b.(type) {
		case Button:
			label = string(b.Kind) + " " + b.Label
		case *Button:
			label = string(b.Kind) + " " + b.Label
		}
		return placedAsk{domID("ask", label+" "+a.Name), a}
	},
}).ParseFS(templateFiles, "templates/*.html"))

// Ring is how much of the nozzle's circle is left, of 100.
func (f frame) Ring(n *Nozzle) string {
	if f.still {
		return ""
	}
	return ring(f.now, n.GelsAt, n.GelTime)
}

// NowX is where the now line stands on an axis; the page's script moves it.
func (f frame) NowX(a axis) string {
	if f.still {
		return ""
	}
	return svgPercent(a.at(f.now))
}
