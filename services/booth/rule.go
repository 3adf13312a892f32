package booth

import (
	"fmt"
	"slices"
	"strings"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// rule is the floor's ruling on a load at a booth. Beside what the floor
// says, a load is sprayed in the booth that it is planned for, and under one
// permit.
func rule(f *floor.Floor, booth floor.BoothID, load floor.LoadID, now time.Time, live floor.Live) floor.Ruling {
	r := ruling(f, load, now, live)
	hold := func(name string, b floor.BoothID, text string) {
		r.Reasons = append(r.Reasons, floor.Reason{Name: name, Subject: b.Subject(), Text: text})
		r.ClearAt, r.MaybeAt = time.Time{}, time.Time{}
	}
	if l := f.Load(load); l != nil && l.Booth != booth {
		hold(floor.HoldWrongBooth, booth, fmt.Sprintf("load %s is planned for booth %s; plan it for %s first", load, l.Booth, booth))
	}
	for _, p := range f.Permits() {
		if p.Load == load && p.Booth != booth {
			hold(floor.HoldBoothPermitted, p.Booth, fmt.Sprintf("a permit for load %s is running at booth %s; give it back", load, p.Booth))
		}
	}
	if !r.Asked && len(r.Reasons) == 0 {
		hold(floor.HoldPanic, booth, "the gate was not evaluated; tell whoever looks after the program")
	}
	return r
}

// guarded is rule, with a panic as one more reason to hold.
func guarded(f *floor.Floor, booth floor.BoothID, load floor.LoadID, now time.Time, live floor.Live) (r floor.Ruling) {
	defer func() {
		if p := recover(); p != nil {
			r = floor.Ruling{Load: load, Booth: booth, At: now, Asked: true, Reasons: []floor.Reason{failed(booth, p)}}
		}
	}()
	return rule(f, booth, load, now, live)
}

// failed is the reason to hold after a panic.
func failed(b floor.BoothID, p any) floor.Reason {
	return floor.Reason{
		Name: floor.HoldPanic, Subject: b.Subject(),
		Text: fmt.Sprintf("the gate could not be evaluated (%v); tell whoever looks after the program", p),
	}
}

// beyondOverride: no foreman can answer for these.
func beyondOverride(name string) bool {
	switch name {
	case floor.HoldLoadUnknown, floor.HoldBoothUnknown, floor.HoldBoothFault, floor.HoldBoothBusy, floor.HoldBoothPermitted,
		floor.HoldLoadSprayed, floor.HoldJobEnded, floor.HoldWrongBooth:
		return true
	}
	return floor.OfProcess(name)
}

// cameUp reports whether a reason is a fact about a seam that the foreman could
// not know when he gave an override: it turned out not laid, or was put on hold
// since. What time brings, and a probe or a tablet that falls silent, he has
// answered for.
func cameUp(f *floor.Floor, p floor.Permit, x floor.Reason) bool {
	known := slices.Contains(p.Over, x.Name+" "+x.Subject)
	switch x.Name {
	case floor.HoldNotLaid, floor.HoldLayerMissing:
		return !known
	case floor.HoldStop:
		return !known || f.StoppedSince(x.Subject, p.Seq)
	}
	return false
}

func reasonNames(rs []floor.Reason) []string {
	var out []string
	for _, r := range rs {
		out = append(out, strings.TrimSpace(r.Name+" "+r.Subject))
	}
	return out
}

func reasonTexts(rs []floor.Reason) string {
	var out []string
	for _, r := range rs {
		out = append(out, r.Text)
	}
	text := strings.Join(out, "; ")
	if len(text) > 1900 {
		text = text[:1900] + " ..."
	}
	return strings.ToValidUTF8(text, "")
}

func revocation(f *floor.Floor, p floor.Permit, names []string, why string, seq uint64, now time.Time) floor.Event {
	ev := f.Own(actor, fmt.Sprintf("gate.revoke.%s.%d", p.ID, seq+1), now)
	ev.Aggregate = p.Booth.Aggregate()
	ev.Body = &boothv1.PermitRevoked{PermitId: p.ID, BoothId: string(p.Booth), LoadId: string(p.Load), Reasons: names, Why: why}
	return ev
}

// needLive refuses permissions asked for after the fact.
func needLive(h floor.Header) error {
	if h.AgeKind != floor.AgeLive {
		return fault.Bad("stamp.age.kind", h.AgeKind, "must be live: leave to spray is given for now, not for the past")
	}
	return nil
}
