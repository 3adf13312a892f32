package intake

import (
	"bytes"
	"encoding/csv"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"go.yaml.in/yaml/v3"

	"seamwright/services/calc/spec"
)

func toYAML(t *testing.T, v any) []byte {
	t.Helper()
	out, err := yaml.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func toCSV(t *testing.T, rows [][]string) []byte {
	t.Helper()
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	if err := w.WriteAll(rows); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// put sets a key unless the value is unknown.
func put[T any](m map[string]any, key string, v *T) {
	if v != nil {
		m[key] = *v
	}
}

func labList(l *spec.Lab) []float64 { return []float64{l.L, l.A, l.B} }

// productTree is a product as the tree of its file.
func productTree(p Product) map[string]any {
	m := map[string]any{
		"id": p.ID, "name": p.Name, "class": string(p.Class), "cartridge_ml": p.CartridgeML,
		"shelf_life_days": p.ShelfLifeDays, "opened_life_days": p.OpenedLifeDays, "lead_time_days": p.LeadTimeDays,
		"substrates": p.Substrates,
	}
	if p.Build != "" {
		m["build"] = string(p.Build)
	}
	if p.MixRatio != "" {
		m["mix_ratio"] = p.MixRatio
	}
	if p.Price != "" {
		m["price"] = map[string]any{"amount": p.Price, "currency": p.Currency}
	}
	colour := map[string]any{}
	if p.Colour != "" {
		colour["name"] = p.Colour
	}
	if p.Lab != nil {
		colour["lab"] = labList(p.Lab)
	}
	m["colour"] = colour
	c := map[string]any{"reference_temp_c": p.Cure.ReferenceTempC, "tolerance_percent": p.Cure.TolerancePercent, "stages": p.Cure.StageMin}
	put(c, "activation_energy_kj_mol", p.Cure.ActivationEnergyKJMol)
	put(c, "activation_energy_band_kj_mol", p.Cure.ActivationEnergyBandKJMol)
	put(c, "rate_doubles_per_k", p.Cure.RateDoublesPerK)
	put(c, "min_temp_c", p.Cure.MinTempC)
	put(c, "max_temp_c", p.Cure.MaxTempC)
	put(c, "after_scuff_closes", p.Cure.AfterScuffClosesMin)
	points := []map[string]any{}
	for _, q := range p.Cure.Points {
		points = append(points, map[string]any{"stage": string(q.Stage), "temp_c": q.TempC, "minutes": q.Minutes})
	}
	c["points"] = points
	over := map[string]any{}
	for coat, w := range p.Cure.Over {
		over[string(coat)] = map[string]any{"opens": w.OpensMin, "closes": w.ClosesMin}
	}
	c["over"] = over
	m["cure"] = c
	return m
}

func num(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

func opt(x *float64) string {
	if x == nil {
		return ""
	}
	return num(*x)
}

// surveyRows is a survey as the rows of its file.
func surveyRows(jobs []Job) [][]string {
	rows := [][]string{append(slices.Clone(surveyNeeded), surveyMore...)}
	for _, j := range jobs {
		coats := make([]string, len(j.Coats))
		for i, c := range j.Coats {
			coats[i] = string(c)
		}
		promised := ""
		if !j.Promised.IsZero() {
			promised = j.Promised.Format(time.RFC3339Nano)
		}
		for _, s := range j.Seams {
			cells := map[string]string{
				"ro": j.RO, "vehicle": j.Vehicle, "vin": j.VIN, "coats": strings.Join(coats, ";"), "paint_colour": j.PaintColour,
				"promised": promised, "weight": num(j.Weight), "after_booth_min": num(j.AfterBoothMin),
				"seam": s.ID, "panel": s.Panel, "place": s.Place, "side": s.Side, "orientation": string(s.Orientation),
				"finish": string(s.Finish), "substrate": string(s.Substrate), "reference_source": string(s.ReferenceSource),
				"class": string(s.Class), "profile": string(s.Profile), "colour": s.Colour,
				"width_mm": opt(s.WidthMM), "height_mm": opt(s.HeightMM), "length_mm": opt(s.LengthMM), "sheet_mm": opt(s.SheetMM),
			}
			if s.Lab != nil {
				cells["lab_l"], cells["lab_a"], cells["lab_b"] = num(s.Lab.L), num(s.Lab.A), num(s.Lab.B)
			}
			row := make([]string, len(rows[0]))
			for i, c := range rows[0] {
				row[i] = cells[c]
			}
			rows = append(rows, row)
		}
	}
	return rows
}
