package screens

import (
	"crypto/sha256"
	"fmt"
	"html/template"
	"net/url"
	"strings"
	"time"
)

// ref is a page's address and who looks at it.
type ref struct {
	Kind     string // "board", "booth", "bay", "plan", "run"
	Booth    string
	RO, Seam string
	Terminal string
	Actor    string
	Viewer   string   // made anew for each page that is handed out
	Said     string   // the command id whose result is to be shown
	Asked    Question // at the plan: the answer's page stands still
	Static   bool     // a gallery page: nothing moves, nothing is sent
}

// Path is the page's own path.
func (r ref) Path() string {
	switch {
	case r.Kind == "booth":
		return "/booth/" + url.PathEscape(r.Booth)
	case r.Kind == "bay" && r.Seam != "":
		return "/bay/" + url.PathEscape(r.RO) + "/" + url.PathEscape(r.Seam)
	case r.Kind == "bay" && r.RO != "":
		return "/bay/" + url.PathEscape(r.RO)
	}
	return "/" + r.Kind
}

// Events is the address of the page's stream of changes.
func (r ref) Events() string {
	q := url.Values{"page": {r.Kind}, "viewer": {r.Viewer}}
	for k, v := range map[string]string{"booth": r.Booth, "ro": r.RO, "seam": r.Seam, "said": r.Said} {
		if v != "" {
			q.Set(k, v)
		}
	}
	return "/events?" + q.Encode()
}

// CommandID is the id that a button of this page carries: the same for as
// long as the page stands, however often the button is drawn again, and
// another for each button and each page. It has the form of an RFC 9562
// version 8 UUID.
func (r ref) CommandID(kind Kind, label string) string {
	h := sha256.Sum256([]byte(strings.Join([]string{r.Viewer, r.Path(), string(kind), label}, "\x00")))
	h[6] = h[6]&0x0f | 0x80
	h[8] = h[8]&0x3f | 0x80
	return fmt.Sprintf("%x-%x-%x-%x-%x", h[0:4], h[4:6], h[6:8], h[8:10], h[10:16])
}

// page is a screen drawn in parts.
type page struct {
	Ref     ref
	Title   string
	Picture Picture
	Build   string // tells an open page that the program behind it changed
	Body    string // the template that sets the parts in their places
	parts   []part
	index   map[string]string
}

// Part is the HTML of one part, for the body's template.
func (p page) Part(id string) template.HTML {
	return template.HTML(p.index[id]) // #nosec G203: made by our own templates
}

// Class is the page's class: its kind, and whether the picture may be
// believed. A live page starts unproven, until its script has heard two
// beats that advance.
func (p page) Class() string {
	c := "page-" + p.Ref.Kind
	if !p.Picture.Live {
		c += " stale"
	}
	if !p.Ref.Static {
		c += " unproven"
	}
	return c
}

// BandAge is the age that the band tells before the script has counted.
func (p page) BandAge() string { return age(p.Picture.Age) }

// Stamp is the picture's moment for the script.
func (p page) Stamp() string { return stamp(p.Picture.Now) }

// SpeedText is the speed of the picture's clock for the script.
func (p page) SpeedText() string { return fmt.Sprintf("%g", speed(p.Picture)) }

func speed(p Picture) float64 {
	if p.Speed <= 0 {
		return 1
	}
	return p.Speed
}

// finish turns a drawer's parts into a page.
func finish(d *drawer, r ref, pic Picture, title, body string, parts []part) (page, error) {
	p := page{Ref: r, Title: title, Picture: pic, Body: body, parts: parts, index: map[string]string{}, Build: build}
	for _, q := range parts {
		p.index[q.id] = q.html
	}
	return p, d.err
}

func newDrawer(r ref, pic Picture) *drawer {
	if pic.Now.IsZero() {
		pic.Now = time.Unix(0, 0).UTC()
	}
	return &drawer{frame: frame{clock: clock{now: pic.Now}, Ref: r, Live: pic.Live}}
}
