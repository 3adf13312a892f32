package feed

import (
	"strings"

	"seamwright/services/calc/spec"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// others are the facts that may have happened instead of the next step.
func (v *view) others(s *floor.Seam, st step, terminal string) []screens.Button {
	var out []screens.Button
	add := func(b *screens.Button) {
		if b != nil {
			out = append(out, *b)
		}
	}
	for _, f := range v.openFindings(s.ID) {
		add(answerButton(f))
	}
	for _, c := range v.doubted(s, terminal) {
		v.doubtOthers(s, c, add)
	}
	switch {
	case !s.Complete():
		v.unlaidOthers(s, st, terminal, add)
	case !s.Coated():
		v.laidOthers(s, st, add)
	}
	if s.Complete() && (s.Coated() || s.Finish == spec.Exposed) && st != stepDone {
		v.finishOthers(st, add)
	}
	v.cartridgeOthers(s, terminal, add)
	add(press(screens.DoCarMoved, "Car moved", "", nil, pick("zone", "Where it is now", string(v.zoneOf(s.Job)), v.zones())))
	if st != stepDone {
		add(press(screens.DoElsewhere, "Done elsewhere", "work that this journal did not see", nil,
			pick("stage", "How far it has come", "", elsewhere(s)),
			screens.Ask{Name: "who", Label: "Who did it", Type: screens.AskText, Need: true},
			screens.Ask{Name: "paper", Label: "The paper that proves it", Type: screens.AskText, Need: true}))
	}
	return out
}

// answerButton is a foreman's answer to a finding. A note wants none.
func answerButton(f *floor.FindingState) *screens.Button {
	if f.Severity == spec.Note {
		return nil
	}
	return &screens.Button{
		Kind: screens.DoDispose, Label: "Foreman answers: " + shortOf(f), Hint: f.Reason, Ready: true, Grave: f.Severity == spec.Stop,
		Given: given("finding", string(f.ID)),
		Asks: []screens.Ask{
			pick("disposition", "Answer", "", answers(f)),
			askReason("Reason"),
			{Name: "pin", Label: "Foreman's PIN", Type: screens.AskPIN, Need: true, Hint: "pick the foreman's name at this screen first"},
		},
	}
}

// answers are those that a finding may have. Only a seam is scuffed or done
// again.
func answers(f *floor.FindingState) []screens.Option {
	out := []screens.Option{{Value: "accept", Label: "Accept it as it is"}}
	if f.Seam() != "" {
		out = append(out, screens.Option{Value: "scuff", Label: "Scuff it"}, screens.Option{Value: "redo", Label: "Take it off and do it again"})
	}
	return append(out, screens.Option{Value: "override", Label: "Override the rule"})
}

func (v *view) unlaidOthers(s *floor.Seam, st step, terminal string, add func(*screens.Button)) {
	c := v.cartridge(s, terminal)
	if st == stepBead || st == stepBed {
		var id []screens.Given
		if c != nil {
			id = given("cartridge", string(c.ID))
		}
		add(press(screens.DoLay, "Bead laid earlier, or with another volume", "", id, askAge(), screens.Ask{
			Name: "volume_ml", Label: "Volume", Type: screens.AskNumber, Unit: "ml", Min: "0", Max: "1000", Value: millimetres(v.beadOf(s).Volume.ML()),
			Hint: "leave empty for the planned one",
		}))
	} else if s.Stage.Rank() >= floor.Planned.Rank() {
		add(press(screens.DoLay, "Bead laid all the same", "it is recorded, with what was wrong about it", nil, askAge()))
	}
	add(press(screens.DoPrep, "Prepped, on another surface", "", nil, askSubstrate(s)))
	add(press(screens.DoCoat, "Undercoated", "primer under the seam", nil, pick("coat", "With", "", undercoats()),
		screens.Ask{Name: "product", Label: "Product", Type: screens.AskText}))
	if s.Plan != nil {
		b := v.decideButton(s)
		b.Label, b.Hint = "Another plan", "it replaces the one that stands"
		add(b)
	}
}

func undercoats() []screens.Option {
	var out []screens.Option
	for _, s := range []spec.Substrate{spec.EpoxyPrimer, spec.DTMUrethanePrimer, spec.SelfEtchPrimer, spec.WeldThroughPrimer, spec.ECoat} {
		out = append(out, screens.Option{Value: string(s), Label: upper(substrateWords(s))})
	}
	return out
}

func (v *view) laidOthers(s *floor.Seam, st step, add func(*screens.Button)) {
	disturbed := press(screens.DoDisturbed, "Bead disturbed", "", nil, askReason("What happened"))
	redo := press(screens.DoRedo, "Taken off: do it again", "", nil, askReason("Why"))
	disturbed.Grave, redo.Grave = true, true
	add(disturbed)
	add(redo)
	if st != stepScuff {
		add(press(screens.DoScuff, "Scuffed", "", nil))
	}
	add(press(screens.DoHeat, "Heat applied", "", nil,
		screens.Ask{Name: "minutes", Label: "For", Type: screens.AskNumber, Unit: "min", Min: "0", Max: "240", Need: true},
		screens.Ask{Name: "surface_temp_c", Label: "Surface", Type: screens.AskNumber, Unit: "°C", Min: "-40", Max: "200", Hint: "leave empty if not measured"}))
	if word := toolWord(s.Bead.Technique); word != "" && !s.Bead.Tooled {
		add(press(screens.DoTool, upper(word)+" earlier", "", given("tool", word), askAge()))
	}
	if s.Finish != spec.Exposed {
		add(press(screens.DoCoat, "Painted without the booth screen", "the first coat over the bead is on", nil, pick("coat", "With", string(s.FirstCoat()), words(spec.Coats())), askAge()))
	}
}

func (v *view) finishOthers(st step, add func(*screens.Button)) {
	leak := press(screens.DoWaterTest, "Water came through", "", given("passed", "no"), askReason("Where"))
	leak.Grave = true
	add(leak)
	if st != stepTest {
		add(press(screens.DoWaterTest, "Water test passed", "", given("passed", "yes")))
	}
	if st != stepWax {
		add(press(screens.DoWax, "Cavity waxed", "", nil))
	}
	no := press(screens.DoInspect, "Not accepted", "", given("passed", "no"), askReason("What is not like the factory's"))
	no.Grave = true
	add(no)
}

func (v *view) cartridgeOthers(s *floor.Seam, terminal string, add func(*screens.Button)) {
	c := v.cartridge(s, terminal)
	if c == nil || s.Complete() && v.s.index.inHandOf(c.ID).terminal != terminal {
		return
	}
	id := given("cartridge", string(c.ID))
	name := "Cartridge " + string(c.ID)
	if c.Nozzle != "" {
		add(press(screens.DoNozzleOff, "Nozzle taken off "+lower(name), "", id))
		add(press(screens.DoStore, name+" put away, nozzle on", "", id))
	} else {
		add(press(screens.DoStore, name+" put away", "", id))
	}
	if len(v.doubts(c)) == 0 { // else its own buttons stand above
		add(weighButton(c))
		add(emptyButton(c))
	}
}

// doubtOthers settle what is in a cartridge that is in doubt.
func (v *view) doubtOthers(s *floor.Seam, c *floor.Cartridge, add func(*screens.Button)) {
	for _, f := range v.doubts(c) {
		add(v.correctButton(s, c, f))
		add(answerButton(f))
	}
	add(weighButton(c))
	if !c.Emptied {
		add(emptyButton(c))
	}
}

func weighButton(c *floor.Cartridge) *screens.Button {
	return press(screens.DoWeigh, "Cartridge "+string(c.ID)+": what is left", "", given("cartridge", string(c.ID)),
		screens.Ask{Name: "volume_ml", Label: "Left", Type: screens.AskNumber, Unit: "ml", Min: "0", Max: "10000", Need: true},
		pick("how", "Read", "marked", []screens.Option{{Value: "marked", Label: "Off a mark on the plunger"}, {Value: "weighed", Label: "Off a scale"}}))
}

// emptyButton: of a cartridge that holds nothing by the book no rest is thrown
// away.
func emptyButton(c *floor.Cartridge) *screens.Button {
	label := "Cartridge " + string(c.ID) + " is done, the rest thrown away"
	if c.Remaining.ML() <= 0 {
		label = "Cartridge " + string(c.ID) + " is empty"
	}
	return press(screens.DoEmpty, label, "", given("cartridge", string(c.ID)))
}

func (v *view) zones() []screens.Option {
	var out []screens.Option
	for _, z := range v.f.Zones() {
		out = append(out, screens.Option{Value: string(z), Label: upper(placeName(string(z)))})
	}
	return out
}

// elsewhere are the stages that a seam may have come to elsewhere: those
// beyond where it stands.
func elsewhere(s *floor.Seam) []screens.Option {
	var out []screens.Option
	for _, st := range []floor.Stage{floor.Prepped, floor.Laid, floor.CoatedOn, floor.Cured, floor.Tested, floor.Accepted} {
		if st.Rank() > s.Stage.Rank() && (st != floor.CoatedOn || s.Finish != spec.Exposed) {
			out = append(out, screens.Option{Value: string(st), Label: upper(strings.ReplaceAll(string(st), "-", " "))})
		}
	}
	return out
}
