package console

import (
	"context"
	"fmt"

	"google.golang.org/grpc"

	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/calc/quantity"
	"seamwright/services/fault"
)

// Stock asks a running shop what it uses of each product, when and how much
// to order, and what will lapse.
type Stock struct {
	At
	Product string
	Weeks   string
	Service string
	Cover   string
}

type stockAnswer struct {
	Now      string         `json:"now"`
	Products []stockProduct `json:"products"`
}

type stockProduct struct {
	Product  string       `json:"product"`
	Name     string       `json:"name"`
	Shelf    int32        `json:"shelf_cartridges"`
	Opened   float64      `json:"opened_ml"`
	Use      string       `json:"use"`               // known, none, unknown
	Weekly   *float64     `json:"weekly_cartridges"` // null: none, or too little is known
	SD       *float64     `json:"weekly_deviation"`
	Weeks    int32        `json:"weeks"`
	Point    *int32       `json:"reorder_point"`
	Safety   float64      `json:"safety_cartridges"`
	Quantity int32        `json:"order_quantity"`
	Order    *int32       `json:"order_now"` // null: nothing can be advised
	RunsOut  *string      `json:"runs_out"`
	Lapses   []stockLapse `json:"lapses"`
	Why      string       `json:"why"`
}

type stockLapse struct {
	Lot        string  `json:"lot"`
	Cartridge  string  `json:"cartridge"`
	Cartridges int32   `json:"cartridges"`
	ML         float64 `json:"volume_ml"`
	At         string  `json:"at"`
	Past       bool    `json:"lapsed"`
	Why        string  `json:"why"`
}

// Run asks and answers.
func (q Stock) Run(ctx context.Context, o Out) error {
	req := &materialsv1.ShowStockRequest{ProductId: q.Product}
	for _, f := range []struct {
		flag, text, limit string
		put               func(float64) bool
	}{
		{"--weeks", q.Weeks, "a whole number from 2 to 260", func(x float64) bool {
			req.Weeks = int32(x)
			return x >= 2 && x <= 260 && x == float64(req.Weeks)
		}},
		{"--service", q.Service, "a number from 0.5 to 0.9999", func(x float64) bool { req.Service = x; return x >= 0.5 && x <= 0.9999 }},
		{"--cover-weeks", q.Cover, "a number above 0, to 260", func(x float64) bool { req.CoverWeeks = x; return x > 0 && x <= 260 }},
	} {
		if f.text == "" {
			continue
		}
		read := number
		if f.flag == "--service" {
			read = share
		}
		x, err := read(f.flag, f.text, f.limit)
		if err != nil {
			return err
		}
		if !f.put(x) {
			return fault.Bad(f.flag, show(f.text), f.limit)
		}
	}
	var r *materialsv1.ShowStockResponse
	if err := q.with(ctx, func(c grpc.ClientConnInterface) (err error) {
		r, err = materialsv1.NewStockServiceClient(c).ShowStock(ctx, req)
		return err
	}); err != nil {
		return err
	}
	a := stockAnswer{Now: moment(r.GetNow().AsTime()), Products: []stockProduct{}}
	for _, p := range r.GetProducts() {
		a.Products = append(a.Products, stockProductOf(p))
	}
	return o.put(a)
}

func stockProductOf(p *materialsv1.ProductStock) stockProduct {
	out := stockProduct{
		Product: p.GetProductId(), Name: p.GetName(), Shelf: p.GetShelf(), Opened: p.GetOpenedMl(), Use: p.GetUse(), Weekly: p.WeeklyUse, SD: p.WeeklyDeviation,
		Weeks: p.GetWeeks(), Point: p.ReorderPoint, Safety: p.GetSafety(), Quantity: p.GetOrderQuantity(), Why: p.GetWhy(),
		Lapses: []stockLapse{},
	}
	if p.ReorderPoint != nil {
		out.Order = &p.OrderNow
	}
	if p.GetRunsOut() != nil {
		text := moment(p.GetRunsOut().AsTime())
		out.RunsOut = &text
	}
	for _, l := range p.GetLapses() {
		out.Lapses = append(out.Lapses, stockLapse{l.GetLotId(), l.GetCartridgeId(), l.GetCartridges(), l.GetVolumeMl(), moment(l.GetAt().AsTime()), l.GetPast(), l.GetWhy()})
	}
	return out
}

func (a stockAnswer) Lines() []string {
	out := []string{fmt.Sprintf("%-18s %6s %10s %9s %9s %9s", "product", "shelf", "opened ml", "a week", "order at", "order now")}
	for _, p := range a.Products {
		week, at, now := "-", "-", "-"
		if p.Weekly != nil {
			week = quantity.Round(*p.Weekly, 2)
		}
		if p.Point != nil {
			at = fmt.Sprint(*p.Point)
		}
		if p.Order != nil {
			now = fmt.Sprint(*p.Order)
		}
		out = append(out, fmt.Sprintf("%-18s %6d %10s %9s %9s %9s", p.Product, p.Shelf, quantity.Round(p.Opened, 0), week, at, now), "  "+p.Why)
		out = append(out, p.lasts()...)
		for _, l := range p.Lapses {
			out = append(out, "  "+l.line(p.Use))
		}
	}
	if len(a.Products) == 0 {
		return []string{"no product is known here; import product files first"}
	}
	return out
}

// lasts says until when a product's stock lasts, where anything is said of it.
func (p stockProduct) lasts() (out []string) {
	if p.Shelf == 0 {
		out = append(out, "  none on the shelf that may be used")
	}
	if p.RunsOut == nil {
		return out
	}
	what := "the last of it lapses on "
	if p.Weekly != nil {
		what = fmt.Sprintf("at %s a week the last of it is used up, or lapses, on ", quantity.Round(*p.Weekly, 2))
	}
	return append(out, "  "+what+(*p.RunsOut)[:len("2006-01-02")])
}

// line is what has lapsed, will, or may where nobody knows what is used.
func (l stockLapse) line(use string) string {
	what := pack(l.Cartridge, l.Lot, 0)
	if l.Cartridge == "" {
		what += ", " + counted(int(l.Cartridges), "cartridge")
	}
	what += ", " + quantity.Round(l.ML, 0) + " ml"
	if l.Past {
		return fmt.Sprintf("%s: lapsed on %s, throw away: %s", what, l.At[:len("2006-01-02")], l.Why)
	}
	word := "will"
	if use == "unknown" {
		word = "may"
	}
	return fmt.Sprintf("%s: %s lapse: %s", what, word, l.Why)
}
