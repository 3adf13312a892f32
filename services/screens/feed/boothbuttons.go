package feed

import (
	"strings"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/floor"
	"seamwright/services/screens"
)

// boothButtons offers what a painter or foreman can do at a booth now.
func (v *view) boothButtons(b *floor.Booth, g *boothv1.Gate, out *screens.Booth) {
	load := given("load", g.GetLoadId())
	permit := g.GetPermit().GetPermitId()
	clear := out.Gate.State == screens.GateClear || out.Gate.State == screens.GateOverride
	switch {
	case b.Loaded != "":
		v.runningButtons(b, out)
	case g.GetLoadId() == "":
	case clear:
		out.Start = press(screens.DoStartSpray, "Start spray", v.gunLacks(b, out), append(load, given("permit", permit)...))
		out.Else = append(out.Else, *press(screens.DoReturnPermit, "Give the permit back", "", append(load, given("permit", permit, "reason", "not sprayed after all")...)))
	default:
		v.askButtons(g, out, load)
		if out.Request.Ready {
			out.Request.Hint = v.gunLacks(b, out)
		}
	}
	if b.Loaded == "" {
		v.setupButtons(b, out)
	}
	if b.Fault != "" {
		out.Else = append(out.Else, *press(screens.DoBoothReset, "Booth back in use", "", nil, screens.Ask{Name: "reason", Label: "What was done", Type: screens.AskText}))
	} else {
		f := press(screens.DoBoothFault, "Booth fault", "", nil, askReason("What is wrong"))
		f.Grave = true
		out.Else = append(out.Else, *f)
	}
}

// setupButtons: a gun that is set up to the next load's colour is told of, so
// that the plan counts the setup from when it began.
func (v *view) setupButtons(b *floor.Booth, out *screens.Booth) {
	if out.Change != "" {
		g := append(phaseGiven(boothv1.Phase_PHASE_PREPARING), given("colour", out.Change)...)
		hint := "the plan counts the setup from now"
		if out.Setup > 0 {
			g = append(g, given("minutes", number(out.Setup.Minutes()))...)
			hint = number(out.Setup.Minutes()) + " min; " + hint
		}
		out.Else = append(out.Else, *press(screens.DoPhase, "The gun is being set up to "+out.Change, hint, g))
	}
	if _, ready := b.Gun(); ready.After(v.now) {
		out.Else = append(out.Else, *press(screens.DoPhase, "The setup is broken off", "the gun keeps what is in it: "+orNone(b.Colour), phaseGiven(boothv1.Phase_PHASE_IDLE)))
	}
}

// gunLacks is what must become of the gun before the next load is sprayed. It
// holds no permit: what is in the gun is the painter's to see.
func (v *view) gunLacks(b *floor.Booth, out *screens.Booth) string {
	gun, ready := b.Gun()
	switch {
	case out.Change != "":
		return "the gun holds " + gun + ": set it up to " + out.Change + " first"
	case b.Next != "" && ready.After(v.now):
		return "the gun is set up to " + gun + " at " + v.at(upTo(ready, time.Minute))
	}
	return ""
}

func orNone(s string) string {
	if s == "" {
		return "nothing that was told"
	}
	return s
}

func phaseGiven(p boothv1.Phase) []screens.Given {
	return given("phase", strings.ReplaceAll(phases[p], " ", "-"))
}

// askButtons: a load waits and there is no leave yet.
func (v *view) askButtons(g *boothv1.Gate, out *screens.Booth, load []screens.Given) {
	rs := g.GetReasons()
	silent := len(rs) > 0
	for _, r := range rs {
		silent = silent && r.GetName() == floor.HoldSilent
	}
	out.Request = &screens.Button{Kind: screens.DoRequestPermit, Label: "Ask for the permit", Given: load, Ready: len(rs) == 0 && g != nil}
	switch {
	case g == nil:
		out.Request.Why = "the gate does not answer"
	case silent:
		out.Request.Ready, out.Request.Label = true, "Nothing was touched: ask for the permit"
		out.Request.Given = append(load, given("confirmed", "yes")...)
	case len(rs) > 0:
		out.Request.Why = "on hold: " + count(len(rs), "reason")
	}
	out.Start = &screens.Button{Kind: screens.DoStartSpray, Label: "Start spray", Given: load, Why: "no permit"}
	if len(rs) > 0 {
		out.Override = v.overrideButton(load)
	}
	begun := press(screens.DoStartSpray, "Spraying has begun without a permit", "it is recorded, and holds the load for the foreman", load)
	begun.Grave = true
	out.Else = append(out.Else, *begun)
}

func (v *view) overrideButton(load []screens.Given) *screens.Button {
	who := screens.Ask{Name: "person", Label: "Foreman", Type: screens.AskPick, Need: true}
	for _, p := range v.s.people() {
		if p.Role == string(floor.Foreman) {
			who.Options = append(who.Options, screens.Option{Value: p.Name, Label: p.Name})
		}
	}
	if len(who.Options) == 0 {
		return nil
	}
	who.Value = who.Options[0].Value
	b := press(screens.DoOverride, "Foreman override", "Shown as OVERRIDE, never as CLEAR, and stands in the report.", load, who,
		screens.Ask{Name: "pin", Label: "PIN", Type: screens.AskPIN, Need: true}, askReason("Reason"),
		screens.Ask{Name: "minutes", Label: "For how long", Type: screens.AskNumber, Unit: "min", Min: "1", Max: "15", Value: "15", Need: true, Hint: "at most 15 minutes"})
	b.Grave = true
	return b
}

// runningButtons: a load is in the booth. The first coat's end is told with
// the flash-off, since the seams are coated by then.
func (v *view) runningButtons(b *floor.Booth, out *screens.Booth) {
	load := given("load", string(b.Loaded))
	phase := func(p boothv1.Phase, label, hint string) *screens.Button {
		return press(screens.DoPhase, label, hint, phaseGiven(p))
	}
	bare := v.uncoated(b.Loaded)
	out.Finish = press(screens.DoFinishLoad, "Load "+string(b.Loaded)+" is out", "", load)
	switch {
	case len(bare) > 0:
		out.Request = phase(boothv1.Phase_PHASE_FLASH_OFF, "First coat is on", "flash-off begins; "+count(len(bare), "seam")+" coated")
		out.Finish.Ready, out.Finish.Why = false, "say first that the first coat is on"
		out.Else = append(out.Else, *press(screens.DoFinishLoad, "Load is out without a coat", "", load))
	case b.Phase == boothv1.Phase_PHASE_SPRAYING:
		out.Request = phase(boothv1.Phase_PHASE_FLASH_OFF, "Flash-off begins", "")
	case b.Phase == boothv1.Phase_PHASE_FLASH_OFF:
		out.Request = phase(boothv1.Phase_PHASE_BAKING, "Bake begins", "")
		out.Else = append(out.Else, *phase(boothv1.Phase_PHASE_SPRAYING, "Next coat begins", ""))
	case b.Phase == boothv1.Phase_PHASE_BAKING:
		out.Request = phase(boothv1.Phase_PHASE_COOLING, "Bake is over, cooling", "")
	}
}

// uncoated are the seams of a load that bear no coat yet.
func (v *view) uncoated(id floor.LoadID) []*floor.Seam {
	l := v.f.Load(id)
	if l == nil {
		return nil
	}
	var out []*floor.Seam
	seams, _ := v.f.LoadSeams(l)
	for _, s := range seams {
		if !s.Coated() {
			out = append(out, s)
		}
	}
	return out
}
