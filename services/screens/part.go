package screens

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"html/template"
	"strings"
)

// part is a piece of a page that is sent anew when its key changes. The key
// of most is their own bytes; where the page's script runs a countdown it is
// the bytes without it. A part with kids is a container: its key is the list
// of its kids, and while that stays only the kids that changed are sent.
type part struct {
	id   string
	html string
	key  string // empty: html
	kids []part
}

func (p part) sum() sum {
	if p.key != "" {
		return sumOf(p.key)
	}
	return sumOf(p.html)
}

// sum tells whether a part is the one that a viewer last got.
type sum [8]byte

func sumOf(s string) (h sum) {
	full := sha256.Sum256([]byte(s))
	copy(h[:], full[:])
	return h
}

// seen is what a viewer has on its screen, by part id.
type seen map[string]sum

// note remembers a part and its kids as sent.
func (s seen) note(p part) {
	s[p.id] = p.sum()
	for _, k := range p.kids {
		s.note(k)
	}
}

// changed returns the parts to send so that the viewer's screen is that of
// parts, and remembers them as sent.
func (s seen) changed(parts []part) []part {
	var out []part
	for _, p := range parts {
		if old, ok := s[p.id]; !ok || old != p.sum() {
			out = append(out, p)
			s.note(p)
			continue
		}
		out = append(out, s.changed(p.kids)...)
	}
	return out
}

// partial wraps a part so that the page morphs it in place.
func partial(p part) string {
	return `<hx-partial hx-target="#` + p.id + `" hx-swap="outerMorph">` + p.html + `</hx-partial>`
}

// domID makes an element id, valid in a selector as it is, out of an
// identifier of the shop. Identifiers that had to be changed get a suffix of
// their own, so that two never meet.
func domID(kind, id string) string {
	clean := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' {
			return r
		}
		return '_'
	}, id)
	if clean != id {
		clean = fmt.Sprintf("%s-%x", clean, sha256.Sum256([]byte(id)))[:len(clean)+9]
	}
	return kind + "-" + clean
}

// frame is what a template gets: the picture's clock, the page's address and
// the value to draw.
type frame struct {
	clock
	Ref  ref
	Live bool
	V    any
}

// With hands the same clock and address to a template for a smaller value.
func (f frame) With(v any) frame { f.V = v; return f }

// drawer renders parts of one page.
type drawer struct {
	frame frame
	err   error
}

// draw renders the template of that name; the first error is kept, so that a
// page builder checks once.
func (d *drawer) draw(name, id string, v any) part {
	return part{id: id, html: d.render(name, struct {
		frame
		ID string
	}{d.frame.With(v), id})}
}

// drawRunning renders a part in which the page's script runs times: that they
// ran on is no reason to send it again.
func (d *drawer) drawRunning(name, id string, v any) part {
	p := d.draw(name, id, v)
	d.frame.still = true
	p.key = d.draw(name, id, v).html
	d.frame.still = false
	return p
}

func (d *drawer) render(name string, v any) string {
	var b bytes.Buffer
	if err := templates.ExecuteTemplate(&b, name, v); err != nil && d.err == nil {
		d.err = fmt.Errorf("draw %s: %w", name, err)
	}
	return b.String()
}

// group renders a container around kids that are drawn already.
func (d *drawer) group(name, id string, v any, kids []part) part {
	var inner strings.Builder
	key := strings.Builder{}
	for _, k := range kids {
		inner.WriteString(k.html)
		key.WriteString(k.id + "\n")
	}
	open := struct {
		frame
		ID    string
		Inner template.HTML
	}{d.frame.With(v), id, template.HTML(inner.String())} // #nosec G203: made by our own templates
	html := d.render(name, open)
	// The key holds the container's own bytes as well: its density, its label.
	open.Inner = ""
	key.WriteString(d.render(name, open))
	return part{id: id, html: html, key: key.String(), kids: kids}
}
