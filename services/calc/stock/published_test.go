package stock

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
)

// The rows of the check tables name their sources.

func must[T any](x T, err error) T {
	if err != nil {
		panic(err)
	}
	return x
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.12g, want %.12g within %g", what, got, want, tolerance)
	}
}

func table(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open("../../../testdata/checks/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows[1:]
}

var numberForm = regexp.MustCompile(`^([0-9.]+(?:e-?[0-9]+)?)(?:/([0-9]+))?`)

// number reads the number that a text begins with, 1/12 too; units follow.
func number(t *testing.T, text string) float64 {
	t.Helper()
	m := numberForm.FindStringSubmatch(strings.TrimSpace(text))
	if m == nil {
		t.Fatalf("no number in %q", text)
	}
	x := must(strconv.ParseFloat(m[1], 64))
	if m[2] != "" {
		x /= must(strconv.ParseFloat(m[2], 64))
	}
	return x
}

// values reads "K=8;h=0.225".
type values map[string]string

func valuesOf(text string) values {
	v := values{}
	for part := range strings.SplitSeq(text, ";") {
		k, x, _ := strings.Cut(part, "=")
		v[strings.TrimSpace(k)] = x
	}
	return v
}

func (v values) of(t *testing.T, name string) float64 {
	t.Helper()
	x, ok := v[name]
	if !ok {
		t.Fatalf("no %s in %v", name, v)
	}
	return number(t, x)
}

// row is one line of the table.
type row struct {
	id, quantity string
	in           values
	expected     string
	tolerance    float64
	text, note   string
}

// want checks a row with a single number.
func (r row) want(t *testing.T, got float64) {
	t.Helper()
	near(t, r.id+" "+r.quantity, got, number(t, r.expected), r.tolerance)
}

func (r row) demand(t *testing.T, mean, sd string) Demand {
	return Demand{Mean: r.in.of(t, mean), SD: r.in.of(t, sd)}
}

func (r row) ratio(t *testing.T) float64 {
	return must(CriticalRatio(r.in.of(t, "h"), r.in.of(t, "p")))
}

// published checks the rows by the beginning of their id, the longest first.
var published = []struct {
	prefix string
	check  func(*testing.T, row)
}{
	{"INV-EOQ1", func(t *testing.T, r row) {
		q, _, err := EOQ(r.in.of(t, "D"), r.in.of(t, "K"), r.in.of(t, "h"))
		r.want(t, must(q, err))
	}},
	{"INV-EOQ2", func(t *testing.T, r row) {
		_, cost, err := EOQ(r.in.of(t, "D"), r.in.of(t, "K"), r.in.of(t, "h"))
		r.want(t, must(cost, err))
	}},
	{"INV-NV2", func(t *testing.T, r row) {
		r.want(t, must(NewsvendorCost(r.demand(t, "mu", "sigma"), r.in.of(t, "h"), r.in.of(t, "p"))))
	}},
	{"INV-NV", func(t *testing.T, r row) { // one period: the lead time of the filling up
		r.want(t, must(ReorderPoint(r.demand(t, "mu", "sigma"), Lead{Mean: 1}, r.ratio(t))).At)
	}},
	{"INV-BS1", func(t *testing.T, r row) {
		r.want(t, must(ReorderPoint(r.demand(t, "mu", "sigma"), Lead{Mean: r.in.of(t, "L"), Review: 1}, r.ratio(t))).At)
	}},
	{"INV-PO1", func(t *testing.T, r row) {
		n := must(PoissonPoint(r.in.of(t, "lambda"), r.ratio(t)))
		r.want(t, float64(n))
		l := newLevels(r.in.of(t, "lambda"), 0, Rates{Hold: r.in.of(t, "h"), Short: r.in.of(t, "p")})
		near(t, r.id+" cost", l.rate(n), number(t, strings.TrimPrefix(r.note, "cost ")), 1e-7)
	}},
	{"INV-SS", checkLevelsRow},
	{"INV-ZF", checkLevelsRow},
	{"INV-RQ1", func(t *testing.T, r row) {
		want := valuesOf(r.expected)
		p, q, _, err := RQ(r.demand(t, "D", "sd"), Lead{Mean: r.in.of(t, "L")}, r.rates(t))
		near(t, r.id+" r", must(p, err), want.of(t, "r"), r.tolerance)
		near(t, r.id+" Q", q, want.of(t, "Q"), r.tolerance)
	}},
	{"INV-RQ3", func(t *testing.T, r row) { // the costs and the demand of INV-RQ1
		cost := must(RQCost(Demand{Mean: 1300, SD: 150}, Lead{Mean: 1. / 12}, Rates{Hold: 0.225, Short: 7.5, Order: 8}, r.in.of(t, "r"), r.in.of(t, "Q")))
		r.want(t, cost)
	}},
	{"INV-RP1", func(t *testing.T, r row) {
		r.want(t, must(ReorderPoint(r.demand(t, "d", "sigma"), Lead{Mean: r.in.of(t, "L")}, Service(r.in.of(t, "z")))).At)
	}},
	{"INV-RP3", func(t *testing.T, r row) {
		r.want(t, must(CycleService(r.demand(t, "D", "sigma"), Lead{Mean: r.in.of(t, "L")}, r.in.of(t, "ROP"))))
	}},
	{"INV-RP4", func(t *testing.T, r row) {
		_, level, _ := strings.Cut(r.quantity, "CSL ")
		d := Demand{Mean: 2500, SD: r.in.of(t, "sigma")} // the mean does not count for the safety stock
		r.want(t, must(ReorderPoint(d, Lead{Mean: r.in.of(t, "L")}, number(t, level))).Safety)
	}},
	{"INV-VL1", func(t *testing.T, r row) {
		l := Lead{Mean: r.in.of(t, "L"), SD: r.in.of(t, "sL")}
		r.want(t, must(ReorderPoint(r.demand(t, "d", "sd"), l, Service(r.in.of(t, "z")))).Safety)
	}},
	{"INV-SH1", func(t *testing.T, r row) {
		limit := number(t, strings.TrimPrefix(r.expected, "<= "))
		if StoreAtMost.C() != limit || !ShelfLifeHolds(StoreAtMost) || ShelfLifeHolds(StoreAtMost+0.1) {
			t.Errorf("%s: %v °C, want %s", r.id, StoreAtMost, r.expected)
		}
	}},
	{"INV-SH3", func(t *testing.T, r row) {
		day := func(n int) time.Time { return time.Date(2026, 1, n, 0, 0, 0, 0, time.UTC) }
		lots := []Lot{{ID: "A", Cartridges: 1, Expires: day(30), Made: day(3)}, {ID: "B", Cartridges: 1, Expires: day(30), Made: day(2)}}
		taken, _, err := Take(lots, 1, day(4))
		if must(taken, err)[0].LotID != "B" {
			t.Errorf("%s: took %v, want %s", r.id, taken, r.expected)
		}
	}},
	{"INV-FEFO1", func(t *testing.T, r row) {
		lots, need := "", 0
		if _, err := fmt.Sscanf(r.text[strings.Index(r.text, "need"):], "need %d", &need); err != nil {
			t.Fatal(err)
		}
		lots, _, _ = strings.Cut(strings.TrimPrefix(r.text, "lots: "), ";")
		var all []Lot
		for text := range strings.SplitSeq(lots, "|") {
			l, exp := Lot{}, ""
			if _, err := fmt.Sscanf(strings.TrimSpace(text), "%s exp %s qty %d", &l.ID, &exp, &l.Cartridges); err != nil {
				t.Fatal(err)
			}
			l.Expires = must(time.Parse("2006-01", exp))
			all = append(all, l)
		}
		taken, short, err := Take(all, need, time.Date(2025, 12, 1, 0, 0, 0, 0, time.UTC))
		got := []string{}
		for _, x := range must(taken, err) {
			got = append(got, fmt.Sprint(x.LotID, x.Cartridges))
		}
		if s := strings.Join(got, ","); s != r.expected || short != 0 {
			t.Errorf("%s: %s, short %d, want %s", r.id, s, short, r.expected)
		}
		// The note: lots that have expired on the day of use are skipped.
		taken, short, err = Take(all, need, time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC))
		if len(must(taken, err)) != 1 || taken[0] != (Taken{"C", 4}) || short != 0 {
			t.Errorf("%s on the day: %v, short %d", r.id, taken, short)
		}
	}},
}

func (r row) rates(t *testing.T) Rates {
	return Rates{Hold: r.in.of(t, "h"), Short: r.in.of(t, "p"), Order: r.in.of(t, "K")}
}

// checkLevelsRow checks s, S and the cost, which stands in the expectation or
// in the note.
func checkLevelsRow(t *testing.T, r row) {
	want := valuesOf(r.expected)
	s, up, cost, err := SS(r.in.of(t, "lambda"), 0, r.rates(t))
	if err != nil || float64(s) != want.of(t, "s") || float64(up) != want.of(t, "S") {
		t.Errorf("%s: s=%d S=%d %v, want %s", r.id, s, up, err, r.expected)
	}
	if told, ok := strings.CutPrefix(r.note, "cost "); ok {
		near(t, r.id+" cost", cost, number(t, told), 1e-6)
	} else {
		near(t, r.id+" cost", cost, want.of(t, "cost"), r.tolerance)
	}
}

func TestPublishedInventory(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range table(t, "06_inventory.csv") {
		r := row{id: c[0], quantity: c[1], in: valuesOf(c[2]), expected: c[3], text: c[2], note: c[8]}
		if c[4] != "-" {
			r.tolerance = number(t, c[4])
		}
		done := false
		for _, p := range published {
			if strings.HasPrefix(r.id, p.prefix) && !done {
				done, seen[p.prefix] = true, true
				p.check(t, r)
			}
		}
		if !done {
			t.Errorf("%s was not checked", r.id)
		}
	}
	for _, p := range published {
		if !seen[p.prefix] {
			t.Errorf("no row %s", p.prefix)
		}
	}
}

func TestPublishedQuantiles(t *testing.T) {
	rows := table(t, "06_normal_z.csv")
	for _, r := range rows {
		level := must(strconv.ParseFloat(r[0], 64))
		z := must(Z(level))
		near(t, "z of "+r[0], z, must(strconv.ParseFloat(r[3], 64)), 1e-9)
		if r[1] != "" {
			near(t, "z of "+r[0]+" in the table", z, number(t, r[1]), number(t, r[2]))
		}
		near(t, "and back", Service(z), level, 1e-12)
	}
	if len(rows) < 10 {
		t.Errorf("%d rows", len(rows))
	}
}
