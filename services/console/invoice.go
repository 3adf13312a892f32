package console

import (
	"context"
	"encoding/csv"
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"google.golang.org/grpc"

	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/calc/quantity"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// Invoice asks a running shop what a job took: material, minutes and
// operations by seam.
type Invoice struct {
	At
	RO       string
	Rate     string // of an hour of labour; empty: labour has no amount
	Currency string // of the rate
	CSV      bool
}

type invoiceAnswer struct {
	RO         string        `json:"ro"`
	Vehicle    string        `json:"vehicle"`
	State      string        `json:"state"`
	Rows       []invoiceLine `json:"lines"`
	Sums       []invoiceSum  `json:"sums"`
	Incomplete int           `json:"incomplete"`
	Sequence   uint64        `json:"sequence"`
	Now        string        `json:"now"`
}

// invoiceLine: amounts are decimals as text, so that nobody rounds them by
// reading them.
type invoiceLine struct {
	Kind      string   `json:"kind"`
	Seam      string   `json:"seam"`
	Operation string   `json:"operation"`
	Product   *string  `json:"product"`
	Quantity  *float64 `json:"quantity"`
	Unit      string   `json:"unit"`
	UnitPrice *string  `json:"unit_price"`
	Amount    *string  `json:"amount"`
	Shown     *string  `json:"shown"`
	Currency  *string  `json:"currency"`
	Billed    bool     `json:"billed"`
	Note      string   `json:"note"`
}

type invoiceSum struct {
	Currency string  `json:"currency"`
	Material *string `json:"material"`
	Labour   *string `json:"labour"`
	Amount   string  `json:"amount"`
	Shown    string  `json:"shown"`
}

// Run asks for the invoice.
func (q Invoice) Run(ctx context.Context, o Out) error {
	req, err := q.request()
	if err != nil {
		return err
	}
	if q.CSV && o.JSON {
		return fault.Bad("--csv", "beside --json", "one of them")
	}
	var a invoiceAnswer
	err = q.with(ctx, func(c grpc.ClientConnInterface) error {
		r, err := jobsv1.NewJobsServiceClient(c).GetInvoice(ctx, req)
		a = invoiced(r)
		return err
	})
	switch {
	case err != nil:
		return err
	case q.CSV:
		return a.csv(o)
	}
	return o.put(a)
}

// rateForm is an amount from 0, as the service takes it.
var rateForm = regexp.MustCompile(`^(0|[1-9][0-9]{0,8})(\.[0-9]{1,4})?$`)

func (q Invoice) request() (*jobsv1.GetInvoiceRequest, error) {
	switch {
	case q.RO == "":
		return nil, missing("RO", "the job's repair-order number, like 2207")
	case !floorID.MatchString(q.RO):
		return nil, fault.Bad("RO", show(q.RO), idForm)
	case q.Rate == "" && q.Currency != "":
		return nil, missing("--rate", "what an hour of labour costs beside --currency, like 95.00")
	case q.Rate != "" && q.Currency == "":
		return nil, missing("--currency", "the currency of --rate, like USD")
	}
	if q.Rate != "" {
		if !rateForm.MatchString(q.Rate) {
			return nil, fault.Bad("--rate", show(q.Rate), "what an hour of labour costs, from 0, like 95.00: at most four decimal places and under 1e9")
		}
		if _, err := quantity.NewMoney("currency", "0", q.Currency); err != nil {
			return nil, fault.Bad("--currency", show(q.Currency), "three capital letters (ISO 4217) like USD")
		}
	}
	return &jobsv1.GetInvoiceRequest{Ro: q.RO, HourlyRate: q.Rate, Currency: q.Currency}, nil
}

func invoiced(r *jobsv1.GetInvoiceResponse) invoiceAnswer {
	a := invoiceAnswer{
		RO: r.GetRo(), Vehicle: r.GetVehicle(), State: r.GetState(), Rows: []invoiceLine{}, Sums: []invoiceSum{},
		Incomplete: int(r.GetIncomplete()), Sequence: r.GetSequence(), Now: moment(r.GetNow().AsTime()),
	}
	for _, l := range r.GetLines() {
		a.Rows = append(a.Rows, invoiceLine{
			Kind: floor.Word(l.GetKind()), Seam: l.GetSeamId(), Operation: l.GetOperation(), Product: name(l.GetProductId()),
			Quantity: l.Quantity, Unit: floor.Word(l.GetUnit()), UnitPrice: name(l.GetUnitPrice()), Amount: name(l.GetAmount()),
			Shown: name(l.GetShown()), Currency: name(l.GetCurrency()), Billed: l.GetBilled(), Note: l.GetNote(),
		})
	}
	for _, s := range r.GetSums() {
		a.Sums = append(a.Sums, invoiceSum{s.GetCurrency(), name(s.GetMaterial()), name(s.GetLabour()), s.GetAmount(), s.GetShown()})
	}
	return a
}

// table lists the lines. What is not billed stands in brackets.
func (a invoiceAnswer) table() []string {
	rows := [][]string{{"seam", "what", "", "quantity", "amount", "note"}}
	seam := ""
	for _, l := range a.Rows {
		of := strings.TrimPrefix(l.Seam, a.RO+"/")
		if of == seam {
			of = ""
		} else {
			seam = of
		}
		rows = append(rows, []string{of, l.Kind, l.what(), l.quantity(), l.amount(), oneLine(l.Note)})
	}
	return table(rows)
}

func (l invoiceLine) what() string {
	if l.Product != nil {
		return l.Operation + " " + *l.Product
	}
	return l.Operation
}

func (l invoiceLine) quantity() string {
	if l.Quantity == nil {
		return "unknown"
	}
	places := 1
	if l.Unit == "each" {
		places = 0
	}
	return quantity.Round(*l.Quantity, places) + " " + l.Unit
}

func (l invoiceLine) amount() string {
	switch {
	case l.Shown == nil:
		return ""
	case !l.Billed:
		return "(" + *l.Shown + ")"
	}
	return *l.Shown
}

// Lines is the invoice for people.
func (a invoiceAnswer) Lines() []string {
	out := append([]string{fmt.Sprintf("job %s, %s, %s", a.RO, typed(a.Vehicle), a.State), ""}, a.table()...)
	out = append(out, "")
	for _, s := range a.Sums {
		line := "sum " + s.Shown
		if s.Material != nil {
			line += ", material " + *s.Material
		}
		if s.Labour != nil {
			line += ", labour " + *s.Labour
		}
		out = append(out, line+" (not rounded before the sum)")
	}
	if len(a.Sums) == 0 {
		out = append(out, "sum unknown: no line has an amount")
	}
	if a.Incomplete > 0 {
		out = append(out, fmt.Sprintf("not in the sum: what is not known of %s", counted(a.Incomplete, "line")))
	}
	return out
}

var invoiceColumns = []string{"kind", "seam", "operation", "product", "quantity", "unit", "unit_price", "amount", "currency", "billed", "note"}

// csv writes the lines and a row of kind sum for each currency. Numbers are
// not rounded; what is not known is empty.
func (a invoiceAnswer) csv(o Out) error {
	w := csv.NewWriter(o.W)
	rows := [][]string{invoiceColumns}
	or := func(s *string) string {
		if s == nil {
			return ""
		}
		return *s
	}
	for _, l := range a.Rows {
		q := ""
		if l.Quantity != nil {
			q = strconv.FormatFloat(*l.Quantity, 'f', -1, 64)
		}
		rows = append(rows, []string{l.Kind, l.Seam, l.Operation, or(l.Product), q, l.Unit, or(l.UnitPrice), or(l.Amount), or(l.Currency), strconv.FormatBool(l.Billed), l.Note})
	}
	for _, s := range a.Sums {
		rows = append(rows, []string{"sum", "", "", "", "", "", "", s.Amount, s.Currency, "", ""})
	}
	if err := w.WriteAll(rows); err != nil {
		return fault.Wrap(err, fault.Unavailable, "output", "")
	}
	return nil
}
