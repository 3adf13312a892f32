package feed

import (
	"fmt"
	"slices"
	"strings"

	"seamwright/services/calc/spec"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

func given(pairs ...string) []screens.Given {
	var out []screens.Given
	for i := 0; i+1 < len(pairs); i += 2 {
		if pairs[i+1] != "" {
			out = append(out, screens.Given{Name: pairs[i], Value: pairs[i+1]})
		}
	}
	return out
}

func press(k screens.Kind, label, hint string, g []screens.Given, asks ...screens.Ask) *screens.Button {
	return &screens.Button{Kind: k, Label: label, Hint: hint, Ready: true, Given: g, Asks: asks}
}

// button is the one big button of a step; nil where there is nothing to
// press now.
func (v *view) button(s *floor.Seam, st step, terminal string) *screens.Button {
	switch st {
	case stepPlan:
		return v.planButton(s)
	case stepDecide:
		return v.decideButton(s)
	case stepPrep:
		if known := s.Substrate; known != "" && known != spec.SubstrateUnknown {
			return press(screens.DoPrep, "Prepped", "on "+substrateWords(known), given("substrate", string(known)))
		}
		return press(screens.DoPrep, "Prepped", "say what the bead will lie on", nil, askSubstrate(s))
	case stepTool:
		word := toolWord(s.Bead.Technique)
		return press(screens.DoTool, upper(map[string]string{"brushed": "bead brushed", "tape pulled": "tape pulled"}[word]), "", given("tool", word))
	case stepDeair:
		return press(screens.DoDeair, "Air is out", "", nil)
	case stepScuff:
		return press(screens.DoScuff, "Scuffed", "the window is open again from now", nil)
	case stepRedo:
		return press(screens.DoRedo, "Bead taken off", "the seam is prepped again", given("reason", "as the foreman decided"))
	case stepWax:
		return press(screens.DoWax, "Wax is on", "", nil)
	case stepTest:
		return press(screens.DoWaterTest, "No water came through", "", given("passed", "yes"))
	case stepInspect:
		return press(screens.DoInspect, "Accepted", "like the factory's", given("passed", "yes"), askMM("width_mm", "Width"), askMM("height_mm", "Height"))
	}
	return v.handButton(s, st, terminal)
}

// handButton are the buttons that need a cartridge in hand.
func (v *view) handButton(s *floor.Seam, st step, terminal string) *screens.Button {
	if st == stepOpen {
		return v.openButton(s)
	}
	c := v.cartridge(s, terminal)
	if c == nil {
		return nil
	}
	id := given("cartridge", string(c.ID))
	with := "cartridge " + string(c.ID)
	switch st {
	case stepEqualise:
		return press(screens.DoEqualise, "Both sides level", with, id)
	case stepOff:
		return press(screens.DoNozzleOff, "Old nozzle off", "of "+with, id)
	case stepFit:
		return press(screens.DoFitNozzle, "Nozzle fitted", "to "+with, id, screens.Ask{
			Name: "hold_up_ml", Label: "What it holds when full, if it was weighed", Type: screens.AskNumber, Unit: "ml", Min: "0", Max: "1000",
		})
	case stepPurge:
		return press(screens.DoPurge, "Purged", "of "+with, id, screens.Ask{
			Name: "volume_ml", Label: "To waste", Type: screens.AskNumber, Unit: "ml", Min: "0", Max: "100", Value: "5",
		})
	case stepBed:
		return press(screens.DoLayBed, "Wet bed laid", with, id)
	case stepBead:
		return v.layButton(s, c)
	}
	return nil
}

func (v *view) layButton(s *floor.Seam, c *floor.Cartridge) *screens.Button {
	id := given("cartridge", string(c.ID))
	if ml := v.beadOf(s).Volume.ML(); ml > 0 {
		return press(screens.DoLay, "Bead laid", fmt.Sprintf("%s ml from cartridge %s, as planned", number(ml), c.ID), id)
	}
	return press(screens.DoLay, "Bead laid", fmt.Sprintf("from cartridge %s; no volume is planned", c.ID), id)
}

func (v *view) openButton(s *floor.Seam) *screens.Button {
	p := v.productFor(s)
	if p == nil {
		return nil
	}
	if l := v.lot(p.ID); l != nil {
		hint := "from lot " + string(l.ID)
		if !l.Expires.IsZero() {
			hint += ", use by " + l.Expires.In(v.now.Location()).Format("2 Jan 2006")
		}
		return press(screens.DoOpenCartridge, "Cartridge opened", hint, given("lot", string(l.ID)))
	}
	return press(screens.DoOpenCartridge, "Cartridge opened", "no lot of it is on the shelf by the book", nil, screens.Ask{
		Name: "lot", Label: "Lot number on the cartridge", Type: screens.AskText, Need: true,
	})
}

func (v *view) planButton(s *floor.Seam) *screens.Button {
	b := v.beadOf(s)
	return press(screens.DoPlan, "Take this plan", v.beadWords(s), given(
		"product", string(b.Product), "profile", string(b.Profile), "technique", string(b.Technique), "nozzle", b.Nozzle,
		"width_mm", millimetres(b.WidthMM), "height_mm", millimetres(b.HeightMM), "volume_ml", millimetres(v.volume(s, b)),
	))
}

func millimetres(x float64) string {
	if x <= 0 {
		return ""
	}
	return number(x)
}

func (v *view) decideButton(s *floor.Seam) *screens.Button {
	b := v.beadOf(s)
	var products []screens.Option
	for _, id := range v.f.Products() {
		products = append(products, screens.Option{Value: string(id), Label: upper(productWords(v.f.Product(id, v.now)))})
	}
	return press(
		screens.DoPlan, "Plan decided", "what is picked here is what the bead is judged by", nil,
		pick("product", "Product", string(b.Product), products),
		pick("profile", "Profile", string(b.Profile), words(spec.Profiles())),
		pick("technique", "Technique", string(b.Technique), techniqueOptions()),
		askMM("width_mm", "Width"),
	)
}

// pick asks for one of several. A long list has nothing picked at first unless
// a value stands: what nobody chose must not be told.
func pick(name, label, value string, options []screens.Option) screens.Ask {
	const buttons = 5 // up to so many are drawn as buttons
	if len(options) > buttons && !slices.ContainsFunc(options, func(o screens.Option) bool { return o.Value == value }) {
		options = append([]screens.Option{{Value: "", Label: "pick one"}}, options...)
	}
	return screens.Ask{Name: name, Label: label, Type: screens.AskPick, Value: value, Options: options, Need: true}
}

func words[W ~string](all []W) []screens.Option {
	var out []screens.Option
	for _, w := range all {
		out = append(out, screens.Option{Value: string(w), Label: upper(strings.ReplaceAll(string(w), "-", " "))})
	}
	return out
}

func techniqueOptions() []screens.Option {
	var out []screens.Option
	for _, t := range spec.Techniques() {
		out = append(out, screens.Option{Value: string(t), Label: upper(techniques[t])})
	}
	return out
}

func substrateOptions() []screens.Option {
	var out []screens.Option
	for _, s := range spec.Substrates() {
		if s != spec.SubstrateUnknown {
			out = append(out, screens.Option{Value: string(s), Label: upper(substrateWords(s))})
		}
	}
	return out
}

func askSubstrate(s *floor.Seam) screens.Ask {
	return pick("substrate", "What the bead will lie on", string(s.Substrate), substrateOptions())
}

func askMM(name, label string) screens.Ask {
	return screens.Ask{Name: name, Label: label, Type: screens.AskNumber, Unit: "mm", Min: "0", Max: "500", Hint: "leave empty if not measured"}
}

func askReason(label string) screens.Ask {
	return screens.Ask{Name: "reason", Label: label, Type: screens.AskText, Need: true}
}

func askAge() screens.Ask {
	return screens.Ask{
		Name: "age_min", Label: "How long ago", Type: screens.AskNumber, Unit: "min", Min: "0", Max: "480", Value: "0", Need: true,
		Hint: "counts to the safe side only",
	}
}
