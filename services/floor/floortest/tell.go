package floortest

import (
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/anypb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/floor"
)

// facts are the verbs that tell a fact, with what makes its body.
var facts map[string]func(s *Script, w *words) proto.Message

// acts are the verbs that do or ask something that is no fact.
var acts map[string]func(s *Script, w *words)

func init() {
	facts = map[string]func(*Script, *words) proto.Message{}
	for _, table := range []map[string]func(*Script, *words) proto.Message{jobFacts, seamFacts, materialFacts, placeFacts} {
		for verb, f := range table {
			facts[verb] = f
		}
	}
	facts["withdraw"], facts["correct"], facts["retime"], facts["answer"] = withdrawn, fixed, retimed, answered
	acts = map[string]func(*Script, *words){
		"person": (*Script).hire, "probe": (*Script).probeLine, "tablet": (*Script).tablet,
		"permit": (*Script).permit, "override": (*Script).override, "return": (*Script).giveBack,
		"gate": (*Script).gate, "findings": (*Script).findings, "stage": (*Script).stage, "clocks": (*Script).clocks,
		"gel": (*Script).gel, "balance": (*Script).balance, "trace": (*Script).trace, "where": (*Script).where, "air": (*Script).air,
		"bead": (*Script).bead, "cartridge": (*Script).cartridge,
	}
}

// Verbs lists the words that a line may begin with.
func Verbs() []string {
	out := []string{"include", "open-shop", "at", "wait"}
	for v := range facts {
		out = append(out, v)
	}
	for v := range acts {
		out = append(out, v)
	}
	slices.Sort(out)
	return out
}

// tell records the fact of a line.
func (s *Script) tell(line string) {
	who, rest := s.speaker(line)
	w := split(rest)
	verb := w.take("a verb")
	if acts[verb] != nil { // "Petra: permit 2207-A"
		s.actAs(who, verb, w)
		return
	}
	name, _ := w.named("named")
	body, st := s.fact(verb, who, w)
	title := strings.Join(append([]string{verb}, split(rest).left[1:min(2, len(split(rest).left))]...), " ")
	r := s.record(title, floor.Command{Stamp: st, Body: body})
	if name != "" && r != nil {
		s.named[name] = r.GetSequence()
	}
}

// fact makes body and stamp out of the words behind a verb.
func (s *Script) fact(verb, who string, w *words) (proto.Message, *floorv1.Stamp) {
	f := facts[verb]
	if f == nil {
		wrong("%q is no verb; known are %s", verb, strings.Join(Verbs(), ", "))
	}
	st := s.stamp(who, w)
	body := f(s, w)
	w.done()
	return body, st
}

// record tells the shop and says what it found.
func (s *Script) record(title string, c floor.Command) *floorv1.Receipt {
	r, err := s.shop.Tell(c)
	if err != nil {
		s.say(s.shop.Now(), "%s: refused: %v", title, err)
		return nil
	}
	var lines []string
	if r.GetRepeated() {
		lines = append(lines, "  was told before; nothing new")
	} else {
		for _, f := range r.GetFindings() {
			lines = append(lines, findingLine(f))
		}
		lines = append(lines, s.lapsed(r.GetSequence())...)
	}
	if len(lines) > 0 {
		s.say(s.shop.Now(), "%s", title)
		s.printf("%s", strings.Join(lines, "\n"))
	}
	return r
}

func findingLine(f *floorv1.Finding) string {
	return "  " + floor.Word(f.GetSeverity()) + " " + f.GetRule() + " " + f.GetSubject() + ": " + f.GetReason()
}

// lapsed says which findings a fact made pointless.
func (s *Script) lapsed(seq uint64) (lines []string) {
	s.floor(func(f *floor.Floor) {
		ev, _, _ := f.Event(seq)
		a, ok := ev.Body.(interface {
			GetAssessment() *floorv1.Assessment
		})
		if !ok {
			return
		}
		for _, id := range a.GetAssessment().GetLapsed() {
			if st, ok := f.Finding(floor.FindingID(id)); ok {
				lines = append(lines, "  no longer "+st.Rule+" "+st.Thing())
			}
		}
	})
	return lines
}

func (s *Script) factNamed(w *words) uint64 {
	name := w.take("the name of a fact")
	seq, ok := s.named[name]
	if !ok {
		wrong("no fact was named %q", name)
	}
	return seq
}

// because is why something is done.
func because(w *words) string {
	text, ok := w.after("because")
	if !ok || text == "" {
		wrong("say why: because ...")
	}
	return text
}

func withdrawn(s *Script, w *words) proto.Message {
	why := because(w)
	return &jobsv1.FactWithdrawn{Sequence: s.factNamed(w), Why: why}
}

// fixed takes "first-bead to lay 2207/rd-l ... because ...".
func fixed(s *Script, w *words) proto.Message {
	b := &jobsv1.FactCorrected{Why: because(w), Sequence: s.factNamed(w), Retime: w.has("retime")}
	if w.take("to") != "to" {
		wrong("correct <fact> to <the right line> because <why>")
	}
	verb := w.take("a verb")
	if facts[verb] == nil {
		wrong("%q is no verb", verb)
	}
	packed, err := anypb.New(facts[verb](s, w))
	if err != nil {
		wrong("%v", err)
	}
	b.Body = packed
	return b
}

func retimed(s *Script, w *words) proto.Message {
	why := because(w)
	return &jobsv1.FactCorrected{Sequence: s.factNamed(w), Why: why, Retime: true}
}

// answered takes "not-purged on seam/2207/rd-l accept because ...".
func answered(s *Script, w *words) proto.Message {
	b := &jobsv1.FindingDisposed{Reason: because(w)}
	rule := w.take("a rule")
	subject, ok := w.named("on")
	if !ok {
		wrong("on which thing?")
	}
	b.Disposition = need[floorv1.Disposition]("disposition", w.take("an answer"))
	s.floor(func(f *floor.Floor) {
		for _, st := range f.Findings(subject) {
			if st.Rule == rule && !st.Lapsed {
				b.FindingId = string(st.ID)
			}
		}
	})
	if b.FindingId == "" {
		wrong("there is no finding %s on %s", rule, subject)
	}
	return b
}
