package console

import (
	"cmp"
	"slices"

	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/calc/spec"
	"seamwright/services/floor"
	"seamwright/services/intake"
)

// What a file says as the fact that the shop records.

func productFact(p intake.Product) (*materialsv1.ProductDefined, error) {
	c := p.Cure
	law, doubts, err := lawOf(c)
	if err != nil {
		return nil, err
	}
	low, nominal, high := law.EnergyJ()
	out := &materialsv1.ProductDefined{
		ProductId: p.ID, Name: p.Name, Class: floor.Enum[floorv1.SealerClass](string(p.Class)),
		Colour: p.Colour, Lab: lab(p.Lab), CartridgeMl: p.CartridgeML, MixRatio: p.MixRatio, Price: p.Price, Currency: p.Currency,
		ShelfLifeDays: p.ShelfLifeDays, OpenedLifeDays: p.OpenedLifeDays, LeadTimeDays: p.LeadTimeDays,
		Cure: &materialsv1.Cure{
			ReferenceTempC: c.ReferenceTempC, ActivationLowKjMol: low / kJ, ActivationNominalKjMol: nominal / kJ, ActivationHighKjMol: high / kJ,
			ActivationBasis: basis(c), MinTempC: c.MinTempC, MaxTempC: c.MaxTempC, TolerancePercent: c.TolerancePercent,
			NozzleGelMin: stageMin(c, intake.NozzleGel), ToolingMin: stageMin(c, intake.Tooling), FlowOutMin: stageMin(c, intake.FlowOut),
			HandlingMin: stageMin(c, intake.Handling), FullCureMin: stageMin(c, intake.FullCure), AfterScuffClosesMin: c.AfterScuffClosesMin,
		},
	}
	for _, d := range doubts {
		out.Cure.ActivationBasis += "; " + d.Kind
	}
	if p.Class == spec.SelfLevelling {
		out.Build = floor.Enum[floorv1.Build](string(p.Build))
	}
	for _, s := range p.Substrates {
		out.Substrates = append(out.Substrates, floor.Enum[floorv1.Substrate](string(s)))
	}
	for _, coat := range spec.Coats() {
		if w, ok := c.Over[coat]; ok {
			out.Cure.Over = append(out.Cure.Over, &materialsv1.Cure_Window{
				Coat: floor.Enum[floorv1.Coat](string(coat)), OpensMin: w.OpensMin, ClosesMin: w.ClosesMin,
			})
		}
	}
	return out, nil
}

// basis says where the activation energy comes from.
func basis(c intake.Cure) string {
	switch {
	case c.ActivationEnergyKJMol != nil:
		return "stated by the product"
	case c.ActivationEnergyBandKJMol != nil:
		return "a band stated by the product"
	case c.RateDoublesPerK != nil:
		return "from the kelvin that double the rate"
	case len(c.Points) > 0:
		return "fitted to times at several temperatures"
	}
	return "nothing stated"
}

func stageMin(c intake.Cure, s intake.Stage) *float64 {
	if m, ok := c.StageMin[s]; ok {
		return &m
	}
	return nil
}

func lab(l *spec.Lab) *floorv1.Lab {
	if l == nil {
		return nil
	}
	return &floorv1.Lab{L: l.L, A: l.A, B: l.B}
}

// zoneFact makes a zone; a zone is worked in when a car may stand there: one
// that is not a booth's own air.
func zoneFact(z intake.Zone, terminals []string, works bool) *curesv1.ZoneDefined {
	return &curesv1.ZoneDefined{
		ZoneId: z.ID, LimitLowC: z.LimitLowC, LimitHighC: z.LimitHighC, ProbeErrorC: z.ProbeErrorC, DriftCPerMin: z.DriftCPerMin,
		StaleAfter: durationpb.New(minutes(z.StaleAfterMin)), Settling: durationpb.New(minutes(z.SettlingMin)),
		Terminals: terminals, Works: works,
	}
}

func boothFact(b intake.Booth) *boothv1.BoothDefined {
	out := &boothv1.BoothDefined{BoothId: b.ID, ZoneId: b.ZoneID, FirstCoatMin: b.FirstCoatMin, ProcessMin: b.ProcessMin}
	for _, i := range b.Open {
		out.Open = append(out.Open, &floorv1.Interval{From: timestamppb.New(i.From), To: timestamppb.New(i.To)})
	}
	// A file without kinds means every kind; the fact says which.
	for _, c := range spec.Coats() {
		if b.MayTake(c) {
			out.Coats = append(out.Coats, floor.Enum[floorv1.Coat](string(c)))
		}
	}
	for from, row := range b.SetupMin {
		for to, m := range row {
			out.Setups = append(out.Setups, &boothv1.BoothDefined_Setup{From: from, To: to, Minutes: m})
		}
	}
	slices.SortFunc(out.Setups, func(a, b *boothv1.BoothDefined_Setup) int {
		return cmp.Or(cmp.Compare(a.From, b.From), cmp.Compare(a.To, b.To))
	})
	return out
}

func loadFact(l intake.Load) *boothv1.LoadPlanned {
	out := &boothv1.LoadPlanned{LoadId: l.ID, BoothId: l.BoothID, Ro: l.RO, Colour: l.Colour, Coat: floor.Enum[floorv1.Coat](string(l.Coat))}
	if l.FirstCoatMin != nil {
		out.FirstCoatMin = *l.FirstCoatMin
	}
	if l.ProcessMin != nil {
		out.ProcessMin = *l.ProcessMin
	}
	for _, s := range l.Seams {
		out.SeamIds = append(out.SeamIds, l.RO+"/"+s)
	}
	return out
}

func jobFact(j intake.Job) *jobsv1.JobOpened {
	out := &jobsv1.JobOpened{
		Ro: j.RO, Vehicle: j.Vehicle, Vin: j.VIN, PaintColour: j.PaintColour, Weight: j.Weight, AfterBoothMin: j.AfterBoothMin,
	}
	if !j.Promised.IsZero() {
		out.Promised = timestamppb.New(j.Promised)
	}
	for _, c := range j.Coats {
		out.Coats = append(out.Coats, floor.Enum[floorv1.Coat](string(c)))
	}
	return out
}

func seamFact(j intake.Job, s intake.Seam) *jobsv1.SeamSurveyed {
	return &jobsv1.SeamSurveyed{
		SeamId: j.RO + "/" + s.ID, Panel: s.Panel, Place: s.Place, Side: s.Side, LengthMm: measure(s.LengthMM),
		Orientation: floor.Enum[floorv1.Orientation](string(s.Orientation)), Finish: floor.Enum[floorv1.Finish](string(s.Finish)),
		Substrate: floor.Enum[floorv1.Substrate](string(s.Substrate)), Hidden: s.Hidden(), SheetMm: s.SheetMM,
		Reference: &floorv1.Reference{
			Source: floor.Enum[floorv1.ReferenceSource](string(s.ReferenceSource)),
			Class:  floor.Enum[floorv1.SealerClass](string(s.Class)), Profile: floor.Enum[floorv1.Profile](string(s.Profile)),
			Colour: s.Colour, Lab: lab(s.Lab), WidthMm: measure(s.WidthMM), HeightMm: measure(s.HeightMM),
		},
	}
}

func sample(r intake.Reading) *curesv1.Sample {
	return &curesv1.Sample{Time: timestamppb.New(r.At), TempC: r.TempC, RhPercent: r.RHPercent, SurfaceC: r.SurfaceC}
}

// about names the thing that a defining fact is about; telling it again
// replaces what was told before. Empty for every other fact.
func about(m any) string {
	switch b := m.(type) {
	case *materialsv1.ProductDefined:
		return "product " + b.GetProductId()
	case *curesv1.ZoneDefined:
		return "zone " + b.GetZoneId()
	case *boothv1.BoothDefined:
		return "booth " + b.GetBoothId()
	case *boothv1.LoadPlanned:
		return "load " + b.GetLoadId()
	case *jobsv1.JobOpened:
		return "job " + b.GetRo()
	case *jobsv1.SeamSurveyed:
		return "seam " + b.GetSeamId()
	case *materialsv1.LotReceived:
		return "lot " + b.GetLotId()
	case *jobsv1.SeamPlanned:
		return "plan of seam " + b.GetSeamId()
	}
	return ""
}
