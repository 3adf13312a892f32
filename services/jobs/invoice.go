package jobs

import (
	"context"
	"slices"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	"seamwright/services/calc/quantity"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// GetInvoice lists what a job took. The hourly rate is optional; a job that is
// not known is a not found fault, half a rate an invalid one.
func (s *Server) GetInvoice(ctx context.Context, req *jobsv1.GetInvoiceRequest) (*jobsv1.GetInvoiceResponse, error) {
	rate, err := hourly(req)
	if err != nil {
		return nil, err
	}
	resp := &jobsv1.GetInvoiceResponse{}
	known := false
	viewed := s.desk.View(ctx, req.GetMinSequence(), func(f *floor.Floor, now time.Time) {
		j := f.Job(floor.RO(req.GetRo()))
		if known = j != nil; known {
			resp.Ro, resp.Vehicle, resp.State = string(j.RO), j.Vehicle, string(j.State)
			err = invoice(f, j.RO, rate, resp)
		}
		resp.Sequence, resp.Now = f.Seq(), timestamppb.New(now)
	})
	switch {
	case viewed != nil:
		return nil, viewed
	case err != nil:
		return nil, err
	case !known:
		return nil, fault.Missing("job", req.GetRo(), "open it first, or correct the number")
	}
	return resp, nil
}

// hourly is the rate that was asked for; the zero value: none.
func hourly(req *jobsv1.GetInvoiceRequest) (quantity.Money, error) {
	switch rate, currency := req.GetHourlyRate(), req.GetCurrency(); {
	case rate == "" && currency == "":
		return quantity.Money{}, nil
	case rate == "":
		return quantity.Money{}, fault.Bad("hourly_rate", "nothing", "a decimal like 95.00 beside a currency, or neither")
	case currency == "":
		return quantity.Money{}, fault.Bad("currency", "nothing", "three capital letters like USD beside a rate, or neither")
	default:
		return quantity.NewMoney("hourly_rate", rate, currency)
	}
}

// invoice writes the lines of a job and their sums.
func invoice(f *floor.Floor, ro floor.RO, rate quantity.Money, out *jobsv1.GetInvoiceResponse) error {
	b := &bill{f: f, rate: rate}
	for _, id := range f.SeamsOf(ro) {
		for _, u := range f.Uses(id) {
			b.lay(u)
		}
	}
	for _, w := range f.Wastes(ro) {
		b.waste(w)
	}
	b.work(f.Work(ro))
	slices.SortStableFunc(b.lines, func(a, c *line) int { return a.key.compare(c.key) })
	for _, l := range b.lines {
		b.price(l)
		out.Lines = append(out.Lines, l.proto())
		if l.incomplete(rate) {
			out.Incomplete++
		}
	}
	sums, err := sum(b.lines)
	out.Sums = sums
	return err
}

// price says what a line costs.
func (b *bill) price(l *line) {
	switch {
	case l.kind == jobsv1.InvoiceKind_INVOICE_KIND_LABOUR:
		l.unitPrice = b.rate.Share(1, 60)
		if l.known {
			l.amount = b.rate.Share(int64(l.took), int64(time.Hour))
		}
	case l.kind == jobsv1.InvoiceKind_INVOICE_KIND_MATERIAL && l.revision != nil:
		p, price := l.revision, l.cost
		if price.amount == "" {
			price = cost{p.Price, p.Currency}
		}
		if price.amount == "" || p.Cartridge <= 0 {
			l.note("the product has no price")
			return
		}
		each, err := quantity.NewMoney("price", price.amount, price.currency)
		if err != nil {
			l.note("the price " + price.amount + " " + price.currency + " of the product cannot be read")
			return
		}
		l.unitPrice = each.Share(1000, int64(p.Cartridge))
		if l.known {
			l.amount = each.Share(l.ul, int64(p.Cartridge))
		}
	}
}

// incomplete reports whether the sums lack something of a line: a quantity or
// a price that is not known, or only in part.
func (l *line) incomplete(rate quantity.Money) bool {
	switch l.kind {
	case jobsv1.InvoiceKind_INVOICE_KIND_MATERIAL:
		return l.billed && (l.gap || l.known && !l.amount.Known())
	case jobsv1.InvoiceKind_INVOICE_KIND_LABOUR:
		return l.billed && rate != quantity.Money{} && !l.known
	}
	return false
}

// sum adds up the billed lines, a currency each. Nothing was rounded before.
func sum(lines []*line) ([]*jobsv1.InvoiceSum, error) {
	material, labour := map[string]quantity.Exact{}, map[string]quantity.Exact{}
	var currencies []string
	for _, l := range lines {
		if !l.billed || !l.amount.Known() {
			continue
		}
		of, cur := material, l.amount.Currency()
		if l.kind == jobsv1.InvoiceKind_INVOICE_KIND_LABOUR {
			of = labour
		}
		more, err := of[cur].Plus(l.amount)
		if err != nil {
			return nil, err
		}
		of[cur] = more
		currencies = append(currencies, cur)
	}
	slices.Sort(currencies)
	var out []*jobsv1.InvoiceSum
	for _, cur := range slices.Compact(currencies) {
		both, err := material[cur].Plus(labour[cur])
		if err != nil {
			return nil, err
		}
		out = append(out, &jobsv1.InvoiceSum{
			Currency: cur, Material: material[cur].Decimal(), Labour: labour[cur].Decimal(), Amount: both.Decimal(), Shown: both.Show(),
		})
	}
	return out, nil
}
