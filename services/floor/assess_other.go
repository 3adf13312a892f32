package floor

import (
	"fmt"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/calc/cure"
	"seamwright/services/calc/spec"
	"seamwright/services/calc/vin"
)

func about(k key, rule string, sev spec.Severity, reason, basis string) Finding {
	return Finding{Rule: rule, Severity: sev, Subject: k, Reason: reason, Basis: basis}
}

// checkCartridge judges a fact about a cartridge against what it was before.
func (a *assessor) checkCartridge(id CartridgeID, f *fact) []Finding {
	after := a.fl.foldCartridgeFacts(a.book, id, append(before(ofCartridge(a.book, id), f), f))
	var out []Finding
	if why := after.misfits[f.seq]; why != "" {
		out = append(out, about(id.key(), "stage-misfit", spec.Query, "Recorded, but it does not fit: "+why+".", spec.CommonPractice))
	}
	if f.lay != nil {
		if over, ok := after.overdrawn[drawn{f.seq, f.lay.pass}]; ok {
			out = append(out, about(id.key(), overdrawn, spec.Query,
				fmt.Sprintf("%.1f ml out of cartridge %s are %.1f ml more than it held; weigh or mark it.", f.lay.volume.ML(), id, over.ML()), spec.CommonPractice))
		}
		return out
	}
	if e, ok := f.body.(*materialsv1.CartridgeOpened); ok {
		out = append(out, a.openedFrom(id, LotID(e.GetLotId()), f)...)
	}
	return append(out, weighed(after, f)...)
}

func (a *assessor) openedFrom(id CartridgeID, lot LotID, f *fact) []Finding {
	l := a.fl.lotOf(a.book, lot)
	switch {
	case l == nil:
		return []Finding{about(id.key(), "lot-unknown", spec.Query, fmt.Sprintf("Lot %s was never received; its product and date are not known.", lot), spec.CommonPractice)}
	case !l.Expires.IsZero() && f.at.After(l.Expires):
		return []Finding{about(id.key(), "opened-out-of-date", spec.Note, fmt.Sprintf("Lot %s was to be used by %s; a bead laid from it is held.", lot, l.Expires.UTC().Format("2 Jan 2006")), productSheet)}
	}
	return nil
}

func (a *assessor) checkLot(f *fact) []Finding {
	if _, ok := f.body.(*materialsv1.CartridgeOpened); ok {
		return nil // judged with the cartridge
	}
	var id LotID
	switch e := f.body.(type) {
	case *materialsv1.LotRecalled:
		id = LotID(e.GetLotId())
	case *materialsv1.StockCounted:
		id = LotID(e.GetLotId())
	default:
		return nil
	}
	if a.fl.lotOf(a.book, id) == nil {
		return []Finding{about(id.key(), "lot-unknown", spec.Query, fmt.Sprintf("Lot %s was never received.", id), spec.CommonPractice)}
	}
	return nil
}

func (a *assessor) checkJob(ro RO, f *fact) []Finding {
	after := a.fl.foldJob(a.book, ro)
	if why := after.misfits[f.seq]; why != "" {
		return []Finding{about(ro.key(), "stage-misfit", spec.Query, "Recorded, but it does not fit: "+why+".", spec.CommonPractice)}
	}
	switch e := f.body.(type) {
	case *jobsv1.JobOpened:
		return a.checkVIN(ro, e.GetVin())
	case *jobsv1.JobDelivered:
		if n := a.fl.openFindings(ro); n > 0 {
			return []Finding{about(ro.key(), "delivered-with-findings", spec.Query, fmt.Sprintf("Delivered with %d findings unanswered.", n), spec.CommonPractice)}
		}
	}
	return nil
}

func (a *assessor) checkVIN(ro RO, text string) []Finding {
	if text == "" {
		return nil
	}
	r := vin.Check(text)
	switch {
	case !r.Valid:
		return []Finding{about(ro.key(), "vin-wrong", spec.Query, fmt.Sprintf("%s is no vehicle identification number: %s.", text, joinReasons(r.Reasons)), "49 CFR 565, ISO 3779")}
	case !r.CheckMatch:
		return []Finding{about(ro.key(), "vin-unchecked", spec.Note, fmt.Sprintf("%s carries no check digit that could prove it; read it again on the car.", text), "ISO 3779")}
	}
	return nil
}

func joinReasons(rs []string) string {
	if len(rs) == 0 {
		return "it has no such form"
	}
	return rs[0]
}

// openFindings counts the unanswered queries and stops of a job's seams and
// loads.
func (fl *Floor) openFindings(ro RO) int {
	n := 0
	for _, s := range fl.findings {
		if s.Open() && s.Severity != spec.Note && fl.jobOf(s.Subject) == ro {
			n++
		}
	}
	return n
}

// jobOf is the job that a thing belongs to; empty for what belongs to none.
func (fl *Floor) jobOf(k key) RO {
	switch kind, id := k.split(); kind {
	case "seam":
		return SeamID(id).RO()
	case "job":
		return RO(id)
	case "load":
		if l := fl.loads[LoadID(id)]; l != nil {
			return l.RO
		}
	}
	return ""
}

// JobOf is the job that a finding belongs to; empty for one of a lot or zone.
func (fl *Floor) JobOf(f *FindingState) RO { return fl.jobOf(f.Subject) }

func (a *assessor) checkLoad(id LoadID, f *fact) []Finding {
	after := a.fl.foldLoad(a.book, id)
	if why := after.misfits[f.seq]; why != "" {
		return []Finding{about(id.key(), "stage-misfit", spec.Query, "Recorded, but it does not fit: "+why+".", spec.CommonPractice)}
	}
	switch e := f.body.(type) {
	case *boothv1.SprayStarted:
		return a.sprayed(id, e, f)
	case *boothv1.LoadPlanned:
		return a.planned(id, e)
	}
	return nil
}

// sprayed asks for the permit. One that was running for this load and booth
// when the spraying started will do, whatever the painter's terminal named
// and whatever became of it before the terminal was heard.
func (a *assessor) sprayed(id LoadID, e *boothv1.SprayStarted, f *fact) []Finding {
	p := a.fl.permitAt(BoothID(e.GetBoothId()), id, f.at)
	switch {
	case p == nil:
		return []Finding{about(id.key(), "sprayed-without-permit", spec.Stop,
			fmt.Sprintf("Load %s was sprayed from %s without a permit.", id, clockTime(f.at)), spec.CommonPractice)}
	case f.at.After(p.StartBy):
		return []Finding{about(id.key(), "sprayed-without-permit", spec.Stop,
			fmt.Sprintf("Spraying started at %s; the permit was good for a start by %s.", clockTime(f.at), clockTime(p.StartBy)), spec.CommonPractice)}
	}
	return nil
}

// checkBooth judges a fact about a booth against what it was before.
func (a *assessor) checkBooth(id BoothID, f *fact) []Finding {
	return misfit(id.key(), foldBooth(a.book, id).misfits[f.seq])
}

// checkNozzle judges a fact about a nozzle against what it was before.
func (a *assessor) checkNozzle(id NozzleID, f *fact) []Finding {
	if n := a.fl.foldNozzle(a.book, id); n != nil {
		return misfit(id.key(), n.misfits[f.seq])
	}
	return nil
}

// misfit is the finding about a fact that leaves things as they were.
func misfit(k key, why string) []Finding {
	if why == "" {
		return nil
	}
	return []Finding{about(k, "stage-misfit", spec.Query, "Recorded, but it does not fit: "+why+".", spec.CommonPractice)}
}

func (a *assessor) planned(id LoadID, e *boothv1.LoadPlanned) []Finding {
	for _, s := range e.GetSeamIds() {
		if seam := a.fl.seams[SeamID(s)]; seam != nil && seam.Finish == spec.Exposed {
			return []Finding{about(id.key(), "exposed-in-load", spec.Note, fmt.Sprintf("%s stays exposed; no coat clock runs on it.", seam.Name()), spec.CommonPractice)}
		}
	}
	return nil
}

// readingFindings judges a reading against the zone's history.
func (fl *Floor) readingFindings(b *curesv1.ReadingTaken, ev *Event) []Finding {
	z, ok := fl.zones[ZoneID(b.GetZoneId())]
	if !ok {
		return nil
	}
	s := z.sampleOf(b, &ev.Header, ev.Seq)
	r, jumped := z.reading(s, z.samples[:z.place(s.at)])
	fs, err := z.course.Try(r)
	if err != nil {
		return nil // a second probe in the same instant
	}
	var out []Finding
	for _, f := range fs {
		if f.To.Equal(r.At) && !(jumped && f.Kind == cure.ImplausibleJump) {
			out = append(out, about(z.ID.key(), f.Kind, spec.Note, f.Reason, "the zone's limits and drift, as entered"))
		}
	}
	if jumped {
		out = append(out, about(z.ID.key(), cure.ImplausibleJump, spec.Note,
			fmt.Sprintf("Probe %s says %.4g °C, away from itself by more than a drift of %.4g K/min allows; check the probe.", s.probe, s.c, z.course.Zone().DriftPerMin),
			"the zone's limits and drift, as entered"))
	}
	return out
}
