package floortest

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/floor"
)

// announcements says what the shop's own events told since it last looked.
func (s *Script) announcements() {
	s.floor(func(f *floor.Floor) {
		for ; s.seen < f.Seq(); s.seen++ {
			if ev, _, ok := f.Event(s.seen + 1); ok {
				s.announced(ev)
			}
		}
	})
}

func (s *Script) announced(ev floor.Event) {
	switch b := ev.Body.(type) {
	case *curesv1.WindowOpened:
		s.say(ev.Received, "%s of %s: surely reached at %s", clockWord(b.GetClock(), b.GetCoat()), b.GetSeamId(), s.clock(b.GetDue().AsTime()))
	case *curesv1.WindowClosed:
		s.say(ev.Received, "%s of %s: over from %s", clockWord(b.GetClock(), b.GetCoat()), b.GetSeamId()+b.GetNozzleId(), s.clock(b.GetDue().AsTime()))
	case *curesv1.WindowRetracted:
		s.say(ev.Received, "%s of %s: taken back", clockWord(b.GetClock(), 0), b.GetSeamId()+b.GetNozzleId())
	case *boothv1.PermitIssued:
		if b.GetOverride() {
			s.say(ev.Received, "OVERRIDE %s by %s over %s, start by %s", b.GetLoadId(), b.GetOverrideBy(),
				names(b.GetOverReasons()), s.clock(b.GetStartBy().AsTime()))
			return
		}
		s.say(ev.Received, "PERMIT %s, start by %s", b.GetLoadId(), s.clock(b.GetStartBy().AsTime()))
	case *boothv1.PermitRevoked:
		s.say(ev.Received, "permit %s REVOKED: %s", b.GetLoadId(), names(b.GetReasons()))
	case *jobsv1.FindingRaised:
		s.say(ev.Received, "%s", b.GetCause())
		s.printf("%s", findingLine(b.GetFinding()))
	}
}

// names lists the names of reasons, which stand before their subjects.
func names(reasons []string) string {
	var out []string
	for _, r := range reasons {
		name, _, _ := strings.Cut(r, " ")
		if !slices.Contains(out, name) {
			out = append(out, name)
		}
	}
	return strings.Join(out, ", ")
}

func clockWord(c floorv1.Clock, coat floorv1.Coat) string {
	if coat == 0 {
		return floor.Word(c)
	}
	return floor.Word(c) + " (" + floor.Word(coat) + ")"
}

// actAs does what is no fact in a person's name.
func (s *Script) actAs(who, verb string, w *words) {
	w.left = append(w.left, "as", who)
	acts[verb](s, w)
	w.done()
}

func (s *Script) asked(verb string, w *words) *floorv1.Stamp {
	who, ok := w.named("as")
	if !ok {
		who, _ = s.speaker(verb + " ")
	}
	return s.stamp(who, w)
}

func (s *Script) tablet(w *words) {
	t := w.take("a terminal")
	switch word := w.take("silent or back"); word {
	case "silent":
		s.silent[t] = true
	case "back":
		delete(s.silent, t)
		s.signs()
	default:
		wrong("%q: a tablet is silent or back", word)
	}
}

func (s *Script) permit(w *words) {
	untouched := w.has("untouched")
	st := s.asked("permit", w)
	l := floor.LoadID(w.take("a load"))
	r, err := s.shop.Permit(st, l, untouched)
	s.ruled(r, err, false)
}

func (s *Script) override(w *words) {
	why := because2(w)
	st := s.asked("override", w)
	minutes := w.length("for").Minutes()
	if _, err := s.shop.Override(st, floor.LoadID(w.take("a load")), why, minutes); err != nil {
		s.say(s.shop.Now(), "override: refused: %v", err)
	}
}

// because2 is because in a line that says at its end who acts.
func because2(w *words) string {
	who, named := w.named("as")
	why := because(w)
	if named {
		w.left = append(w.left, "as", who)
	}
	return why
}

func (s *Script) giveBack(w *words) {
	st := s.asked("return", w)
	if err := s.shop.Return(st, floor.LoadID(w.take("a load"))); err != nil {
		s.say(s.shop.Now(), "return: refused: %v", err)
	}
}

func (s *Script) gate(w *words) {
	untouched := w.has("untouched")
	r, err := s.shop.Gate(floor.LoadID(w.take("a load")), untouched)
	s.ruled(r, err, true)
}

// findingNumber stands in the text of a hold; numbers differ between shops.
var findingNumber = regexp.MustCompile(` \(finding [0-9.]+\)`)

func (s *Script) ruled(r floor.Ruling, err error, clear bool) {
	now := s.shop.Now()
	switch {
	case err != nil:
		s.say(now, "refused: %v", err)
	case r.Clear():
		if clear {
			s.say(now, "CLEAR %s", r.Load)
		}
	case r.ClearAt.IsZero():
		s.say(now, "HOLD %s", r.Load)
	default:
		s.say(now, "HOLD %s, clear %s", r.Load, s.clock(r.ClearAt.Add(time.Minute-1))) // a minute at which it has surely come
	}
	for _, why := range r.Reasons {
		s.printf("  %s %s: %s", why.Name, why.Subject, findingNumber.ReplaceAllString(why.Text, ""))
	}
}

// findings lists what is open and what was answered, about a job or a thing.
func (s *Script) findings(w *words) {
	of := w.maybe()
	n := 0
	s.floor(func(f *floor.Floor) {
		for _, st := range f.AllFindings() {
			if st.Lapsed || of != "" && of != st.Thing() && of != string(f.JobOf(st)) {
				continue
			}
			n++
			s.printf("  %s %s %s%s", st.Severity, st.Rule, st.Thing(), answerWord(st))
		}
	})
	if n == 0 {
		s.printf("  no findings")
	}
}

func answerWord(st *floor.FindingState) string {
	switch {
	case st.Answer == 0:
		return ""
	case st.Open():
		return fmt.Sprintf(" (%s, not yet done)", floor.Word(st.Answer))
	}
	return fmt.Sprintf(" (%s by %s: %s)", floor.Word(st.Answer), st.AnsweredBy, st.AnswerText)
}

// stage tells how far seams have come: those named, or all of a job.
func (s *Script) stage(w *words) {
	of := w.take("a job or seams")
	s.floor(func(f *floor.Floor) {
		ids := f.SeamsOf(floor.RO(of))
		if strings.Contains(of, "/") {
			ids = nil
			for _, id := range list(of) {
				ids = append(ids, floor.SeamID(id))
			}
		}
		for _, id := range ids {
			if seam := f.Seam(id); seam != nil {
				s.printf("  %s %s", id, seam.Stage)
			} else {
				s.printf("  %s is not known", id)
			}
		}
	})
}

func (s *Script) clocks(w *words) {
	id, now := floor.SeamID(w.take("a seam")), s.shop.Now()
	s.floor(func(f *floor.Floor) {
		states := f.Clocks(id, now)
		if len(states) == 0 {
			s.printf("  no clock runs on %s", id)
		}
		for _, c := range states {
			s.printf("  %s", s.clockLine(c))
		}
	})
}

func (s *Script) clockLine(c floor.ClockState) string {
	name := clockWord(c.ClockID.Clock, floor.Enum[floorv1.Coat](string(c.ClockID.Coat)))
	if c.Clock.Kind == cure.Ready {
		return fmt.Sprintf("%s: %s, %.0f %% sure, sure at %s, possible from %s", name, c.Reached, 100*c.Progress(), s.clock(c.DueCold), s.clock(c.DueHot))
	}
	return fmt.Sprintf("%s: %s, may be over from %s, likely at %s", name, c.Reached, s.clock(c.DueHot), s.clock(c.DueNominal))
}

func (s *Script) gel(w *words) {
	id := floor.CartridgeID(w.take("a cartridge"))
	s.floor(func(f *floor.Floor) {
		c, ok := f.Gel(id, s.shop.Now())
		if !ok {
			s.printf("  nothing is gelling on %s", id)
			return
		}
		s.printf("  %s on %s: %s", c.ClockID.Nozzle, id, strings.TrimPrefix(s.clockLine(c), "nozzle-gel: "))
	})
}

func (s *Script) balance(w *words) {
	id := floor.LotID(w.take("a lot"))
	s.floor(func(f *floor.Floor) {
		b, ok := f.Balance(id)
		if !ok {
			s.printf("  lot %s was never received", id)
			return
		}
		word := "closes"
		if !b.Closes() {
			word = "DOES NOT CLOSE"
		}
		s.printf("  %s: %.1f ml received = shelf %.1f + opened %.1f + laid %.1f + spent %.1f + discarded %.1f + unexplained %.1f: %s",
			id, b.Received.ML(), b.Shelf.ML(), b.Opened.ML(), b.Laid.ML(), b.Spent.ML(), b.Discarded.ML(), b.Missing.ML(), word)
	})
}

// trace tells where a lot went.
func (s *Script) trace(w *words) {
	id := floor.LotID(w.take("a lot"))
	s.floor(func(f *floor.Floor) {
		t, ok := f.Trace(id)
		if !ok {
			s.printf("  %s is not known", id)
			return
		}
		for _, u := range t.Uses {
			line := fmt.Sprintf("%s %s of %s on %s: %.1f ml %s", s.clock(u.At), u.Layer, u.Cartridge, u.Seam, u.Volume.ML(), u.Basis)
			if u.Basis == floor.VolumeCorrected {
				line += fmt.Sprintf(" from %.1f", u.Booked.ML())
			}
			switch {
			case u.OnHold:
				line += ", on hold"
			case !u.Removed.IsZero():
				line += ", taken off " + s.clock(u.Removed)
			}
			s.printf("  %s, job %s", line, u.Job)
		}
	})
}

func (s *Script) cartridge(w *words) {
	id := floor.CartridgeID(w.take("a cartridge"))
	s.floor(func(f *floor.Floor) {
		c := f.Cartridge(id)
		if c == nil {
			s.printf("  %s is not known", id)
			return
		}
		s.printf("  %s of lot %s: %.1f ml left, nozzle %s", id, c.Lot, c.Remaining.ML(), orWord(string(c.Nozzle), "none"))
	})
}

func orWord(s, none string) string {
	if s == "" {
		return none
	}
	return s
}

// where tells the zones that a seam's temperature is taken from now.
func (s *Script) where(w *words) {
	id := floor.SeamID(w.take("a seam"))
	s.floor(func(f *floor.Floor) {
		var names []string
		for _, z := range f.Places(f.Seam(id), s.shop.Now()) {
			names = append(names, string(z))
		}
		s.printf("  %s: %s", id, strings.Join(names, " or "))
	})
}

func (s *Script) air(w *words) {
	id := floor.ZoneID(w.take("a zone"))
	s.floor(func(f *floor.Floor) {
		a, ok := f.Air(id, s.shop.Now())
		if !ok {
			s.printf("  %s is not known", id)
			return
		}
		s.printf("  %s: %.1f to %.1f °C, fresh %v", id, a.Set.Lo, a.Set.Hi, a.Fresh)
	})
}

// bead tells from when a seam's clocks count.
func (s *Script) bead(w *words) {
	id := floor.SeamID(w.take("a seam"))
	s.floor(func(f *floor.Floor) {
		seam := f.Seam(id)
		if seam == nil || seam.Bead == nil {
			s.printf("  nothing lies on %s", id)
			return
		}
		s.printf("  %s: ready counts from %s, spent from %s", id, seconds(seam.Bead.ReadyFrom), seconds(seam.Bead.SpentFrom))
	})
}

func seconds(t time.Time) string { return t.UTC().Format("15:04:05") }
