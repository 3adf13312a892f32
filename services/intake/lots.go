package intake

import (
	"io"
	"regexp"
	"strconv"
	"time"
)

// MaxLots is the most rows that a file of lots may have.
const MaxLots = 10_000

// Lot is a delivery: the unopened cartridges that came in of a lot.
type Lot struct {
	ID         string
	ProductID  string
	Expires    time.Time // use by; zero: the product's shelf life counts from the receipt
	Cartridges int       // 0: told as a volume
	ReceivedML float64   // 0: told in cartridges
	Cost       string    // of one cartridge, a decimal; empty: the product's price
	Currency   string    // of the cost
	Line       int       // in the file
}

// ReadLots reads a file of lots (CSV): lot, product, and of cartridges and
// received_ml one; expires, cost and currency may be empty. A day in expires
// counts to its end in UTC.
func ReadLots(name string, r io.Reader) ([]Lot, error) {
	s := &sheet{name: name}
	data, err := s.slurp(r, MaxBytes)
	if err != nil {
		return nil, err
	}
	if data == nil {
		return nil, s.err()
	}
	t := s.table(data, MaxLots, []string{"lot", "product"}, []string{"expires", "cartridges", "received_ml", "cost", "currency"})
	if t == nil {
		return nil, s.err()
	}
	out := []Lot{}
	first := map[string]int{}
	for t.next() {
		l := readLot(t)
		if was, twice := first[l.ID]; twice {
			t.bad("lot", "each lot once, it stands at line "+strconv.Itoa(was)+" too; add up what came of it")
		}
		first[l.ID] = t.line
		out = append(out, l)
	}
	if err := s.err(); err != nil {
		return nil, err
	}
	return out, nil
}

var (
	cost     = regexp.MustCompile(`^[0-9]{1,9}(\.[0-9]{1,4})?$`)
	currency = regexp.MustCompile(`^[A-Z]{3}$`)
)

func readLot(t *table) Lot {
	l := Lot{ID: t.id("lot"), ProductID: t.id("product"), Expires: t.useBy("expires"), Cost: t.cell("cost"), Currency: t.cell("currency"), Line: t.line}
	if n := t.maybe("cartridges", span{lo: 1, hi: 100_000, whole: true, unit: "cartridges"}); n != nil {
		l.Cartridges = int(*n)
	}
	if ml := t.maybe("received_ml", span{lo: 0, above: true, hi: 1e9, unit: "ml"}); ml != nil {
		l.ReceivedML = *ml
	}
	switch {
	case t.cell("cartridges") != "" && t.cell("received_ml") != "":
		t.bad("received_ml", "empty where cartridges are given; take one of the two out")
	case t.cell("cartridges") == "" && t.cell("received_ml") == "":
		t.bad("cartridges", "how many came in, or their volume in received_ml")
	}
	if l.Cost != "" && !cost.MatchString(l.Cost) {
		t.bad("cost", "what one cartridge cost, a decimal like 31.50, or empty")
	}
	if (l.Cost == "") != (l.Currency == "") || l.Currency != "" && !currency.MatchString(l.Currency) {
		t.bad("currency", "three capital letters like USD beside a cost, empty without one")
	}
	return l
}

// useBy reads a day or an instant that may be empty.
func (t *table) useBy(col string) time.Time {
	c := t.cell(col)
	if c == "" {
		return time.Time{}
	}
	if day, err := time.Parse(time.DateOnly, c); err == nil && day.Year() >= 1970 && day.Year() < 2200 {
		return day.AddDate(0, 0, 1).Add(-time.Second)
	}
	at, ok := moment(c)
	if !ok {
		t.bad(col, "a day like 2027-03-31, or "+momentLimit)
	}
	return at
}
