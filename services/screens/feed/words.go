package feed

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"seamwright/services/calc/spec"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// at prints a moment as the screens do: the time alone today, with its day
// else.
func (v *view) at(t time.Time) string {
	if t.IsZero() {
		return "unknown"
	}
	t = t.In(v.now.Location())
	days := int(math.Round(midnight(t).Sub(midnight(v.now)).Hours() / 24))
	hour := t.Format("15:04")
	switch {
	case days == 0:
		return hour
	case days == 1:
		return "tomorrow " + hour
	case days == -1:
		return "yesterday " + hour
	case days > 1 && days < 7:
		return t.Format("Mon ") + hour
	}
	return t.Format("2 Jan ") + hour
}

// by prints a moment that must be reached: rounded up to the minute, so that
// what is told holds.
func (v *view) by(t time.Time) string { return v.at(upToMinute(t)) }

// upToMinute is the first whole minute not before a moment.
func upToMinute(t time.Time) time.Time {
	if t.IsZero() {
		return t
	}
	return upTo(t, time.Minute)
}

func midnight(t time.Time) time.Time {
	y, m, d := t.Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

// placeName is an identifier as a person says it: "bay-2" is "bay 2".
func placeName(id string) string { return strings.NewReplacer("-", " ", "_", " ").Replace(id) }

// shopName is the shop's name as it stands over its screens: the journal's
// "harrow-street" is "Harrow Street".
func shopName(id string) string {
	parts := strings.Fields(placeName(id))
	for i := range parts {
		parts[i] = upper(parts[i])
	}
	return strings.Join(parts, " ")
}

func upper(s string) string {
	for i, r := range s {
		return strings.ToUpper(string(r)) + s[i+len(string(r)):]
	}
	return s
}

func lower(s string) string {
	for i, r := range s {
		return strings.ToLower(string(r)) + s[i+len(string(r)):]
	}
	return s
}

// sentence begins large and ends with a stop.
func sentence(s string) string {
	if s = upper(strings.TrimSpace(s)); s == "" || strings.HasSuffix(s, ".") {
		return s
	}
	return s + "."
}

// list joins names: "a", "a and b", "a, b and c", "a, b and 2 more".
func list(names []string) string {
	const most = 2 // named, where there are more than one more
	switch n := len(names); {
	case n == 0:
		return ""
	case n == 1:
		return names[0]
	case n > most+1:
		return strings.Join(names[:most], ", ") + fmt.Sprintf(" and %d more", n-most)
	default:
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	}
}

// count prints a number with its noun.
func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return strconv.Itoa(n) + " " + noun + "s"
}

func number(x float64) string { return strconv.FormatFloat(math.Round(x*10)/10, 'f', -1, 64) }

// length prints a length of time: "8 min", "2 h 10 min", "2 days".
func length(d time.Duration) string {
	m := int(math.Round(d.Minutes()))
	switch {
	case m < 1:
		return fmt.Sprintf("%d s", int(d.Seconds()))
	case m < 120:
		return fmt.Sprintf("%d min", m)
	case m < 48*60 && m%60 == 0:
		return fmt.Sprintf("%d h", m/60)
	case m < 48*60:
		return fmt.Sprintf("%d h %d min", m/60, m%60)
	}
	return fmt.Sprintf("%d days", m/60/24)
}

// productWords is a product as a technician calls it: "heavy-bodied white".
func productWords(p *floor.Product) string {
	if p == nil {
		return ""
	}
	w := string(p.Spec.Class)
	if p.Spec.Build == spec.HighBuild {
		w += " high-build"
	}
	return strings.TrimSpace(w + " " + p.Spec.Colour)
}

func substrateWords(s spec.Substrate) string {
	switch s {
	case "":
		return string(spec.SubstrateUnknown)
	case spec.ECoat:
		return "e-coat"
	case spec.ZincCoated:
		return "zinc-coated metal"
	case spec.DTMUrethanePrimer:
		return "direct-to-metal urethane primer"
	case spec.SelfEtchPrimer:
		return "self-etch primer"
	case spec.WeldThroughPrimer:
		return "weld-through primer"
	}
	return strings.ReplaceAll(string(s), "-", " ")
}

var techniques = map[spec.Technique]string{
	spec.DirectBead: "direct bead", spec.TapeEdge: "bead between tapes", spec.WetBedThenBead: "bead on a wet bed",
	spec.OffPanelBead: "off-panel bead on a wet bed", spec.BrushedOn: "laid, then brushed",
}

// profileWords is a bead's shape with its width: "ribbon 25 mm".
func profileWords(p spec.Profile, widthMM float64) string {
	w := string(p)
	if widthMM > 0 {
		w += " " + number(widthMM) + " mm"
	}
	return w
}

var sources = map[spec.ReferenceSource]string{
	spec.BeforeTearDown: "seen before tear-down", spec.RemovedPanel: "seen on the removed panel",
	spec.OtherSide: "taken from the other side", spec.MakersData: "from the maker's data",
}

// referenceWords says what the factory made and how that is known.
func referenceWords(r spec.Reference) string {
	if r.Source == spec.NoReference || r.Source == "" {
		return "factory: not known, nobody has seen it"
	}
	w := profileWords(r.Profile, r.WidthMM)
	for _, part := range []string{r.Colour, string(r.Class)} {
		if part != "" {
			w += ", " + part
		}
	}
	return "factory: " + strings.TrimPrefix(w, ", ") + "; " + sources[r.Source]
}

// coated is what a first coat has made of a seam.
func coated(c spec.Coat) string {
	switch c {
	case spec.PrimerSurfacer:
		return "primed"
	case spec.Undercoat:
		return "undercoated"
	case "":
		return "painted"
	}
	return "topcoated"
}

// climateOf is the air of a zone.
func (v *view) climateOf(z floor.ZoneID, name string) screens.Climate {
	c := screens.Climate{Zone: name, Stale: true}
	a, ok := v.f.Air(z, v.now)
	if !ok || !a.Read {
		return c
	}
	t := a.Last.C
	c.TempC, c.ReadAt, c.Stale = &t, a.Last.At.In(v.now.Location()), !a.Fresh
	if a.Humid {
		rh := a.RH
		c.RHPercent = &rh
	}
	return c
}
