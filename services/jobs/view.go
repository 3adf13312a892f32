package jobs

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/calc/spec"
	"seamwright/services/floor"
)

// jobList lists jobs in order of promised time, those without one last, then
// by number.
func jobList(f *floor.Floor, withEnded bool, now time.Time) []*jobsv1.Job {
	var jobs []*floor.Job
	for _, ro := range f.Jobs() {
		if j := f.Job(ro); withEnded || j.State == floor.JobOpen {
			jobs = append(jobs, j)
		}
	}
	slices.SortFunc(jobs, func(a, b *floor.Job) int {
		if a.Promised.IsZero() != b.Promised.IsZero() {
			if a.Promised.IsZero() {
				return 1
			}
			return -1
		}
		return cmp.Or(a.Promised.Compare(b.Promised), cmp.Compare(a.RO, b.RO))
	})
	out := make([]*jobsv1.Job, len(jobs))
	for i, j := range jobs {
		out[i] = job(f, j, now)
	}
	return out
}

func job(f *floor.Floor, j *floor.Job, now time.Time) *jobsv1.Job {
	out := &jobsv1.Job{
		Ro: string(j.RO), Vehicle: j.Vehicle, Vin: j.VIN, PaintColour: j.PaintColour,
		Promised: moment(j.Promised), State: string(j.State), ZoneId: string(carZone(f, j.RO)),
	}
	for _, c := range j.Coats {
		out.Coats = append(out.Coats, floor.Enum[floorv1.Coat](string(c)))
	}
	for _, id := range f.SeamsOf(j.RO) {
		out.Seams = append(out.Seams, seam(f, f.Seam(id), now))
	}
	for _, id := range f.Loads() {
		if f.Load(id).RO == j.RO {
			out.Loads = append(out.Loads, string(id))
		}
	}
	return out
}

// carZone is where the car is: where a seam on no panel of its own is.
func carZone(f *floor.Floor, ro floor.RO) floor.ZoneID { return f.Zone(&floor.Seam{Job: ro}) }

func seam(f *floor.Floor, s *floor.Seam, now time.Time) *jobsv1.Seam {
	out := &jobsv1.Seam{
		SeamId: string(s.ID), Panel: string(s.Panel), Place: s.Place, Side: s.Side, LengthMm: s.LengthMM,
		Finish:    floor.Enum[floorv1.Finish](string(s.Finish)),
		Stage:     floor.Enum[floorv1.Stage](string(s.Stage)),
		Substrate: floor.Enum[floorv1.Substrate](string(s.Substrate)),
		Reference: reference(s.Reference),
	}
	if s.Plan != nil {
		out.ProductId = string(s.Plan.Product)
	}
	for _, c := range f.Clocks(s.ID, now) {
		out.Clocks = append(out.Clocks, clockState(c))
	}
	for _, fi := range f.SeamFindings(s.ID) {
		out.Findings = append(out.Findings, finding(fi))
	}
	return out
}

func reference(r spec.Reference) *floorv1.Reference {
	out := &floorv1.Reference{
		Source: floor.Enum[floorv1.ReferenceSource](string(r.Source)),
		Class:  floor.Enum[floorv1.SealerClass](string(r.Class)), Profile: floor.Enum[floorv1.Profile](string(r.Profile)),
		Colour: r.Colour, WidthMm: r.WidthMM, HeightMm: r.HeightMM,
	}
	if r.Lab != nil {
		out.Lab = &floorv1.Lab{L: r.Lab.L, A: r.Lab.A, B: r.Lab.B}
	}
	return out
}

func clockState(c floor.ClockState) *jobsv1.ClockState {
	return &jobsv1.ClockState{
		Clock: c.ClockID.Clock, Coat: floor.Enum[floorv1.Coat](string(c.Coat)), Reached: answer(c.Reached),
		NeededS: c.NeededS, AgeColdS: c.AgeColdS, AgeHotS: c.AgeHotS,
		DueCold: moment(c.DueCold), DueHot: moment(c.DueHot),
	}
}

func answer(r cure.Reached) floorv1.Answer {
	return floor.Enum[floorv1.Answer](r.String())
}

func finding(s *floor.FindingState) *jobsv1.FindingState {
	return &jobsv1.FindingState{
		FindingId: string(s.ID), Finding: s.Proto(), Open: s.Open(), Lapsed: s.Lapsed,
		Disposition: s.Answer, AnsweredBy: s.AnsweredBy, Answer: s.AnswerText, Raised: timestamppb.New(s.Raised),
	}
}

// about reports whether a finding concerns a job: itself, one of its seams or
// one of its loads.
func about(f *floor.Floor, s *floor.FindingState, ro floor.RO) bool {
	if seam := s.Seam(); seam != "" {
		return seam.RO() == ro
	}
	kind, id, _ := strings.Cut(s.Thing(), "/")
	switch kind {
	case "job":
		return floor.RO(id) == ro
	case "load":
		l := f.Load(floor.LoadID(id))
		return l != nil && l.RO == ro
	}
	return false
}
