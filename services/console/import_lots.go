package console

import (
	"fmt"
	"math"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/fault"
	"seamwright/services/intake"
)

func (q Import) readLots(in *imported) (err error) {
	if q.Lots != "" {
		in.lots, err = readFile("--lots", q.Lots, intake.ReadLots)
	}
	return err
}

// lots makes the facts of a file of lots. Each must find its product, in the
// shop or among what comes before it. One that the shop received otherwise is
// refused: told again it would be a further delivery.
func (t *teller) lots(file string, in imported) ([]proto.Message, error) {
	sheets := map[string]*materialsv1.ProductDefined{}
	for _, f := range in.facts {
		if p, ok := f.(*materialsv1.ProductDefined); ok {
			sheets[p.GetProductId()] = p
		}
	}
	var out []proto.Message
	for _, l := range in.lots {
		p := sheets[l.ProductID]
		if p == nil {
			p, _ = t.known["product "+l.ProductID].body.(*materialsv1.ProductDefined)
		}
		at := fmt.Sprintf("%s:%d ", file, l.Line)
		if p == nil {
			e := fault.Missing("product", l.ProductID, "nothing was stored; import the products first or in the same command, with --products DIR")
			e.Message = at + "product: " + e.Message
			return nil, e
		}
		b, err := lotFact(at, l, p)
		if err != nil {
			return nil, err
		}
		if was, ok := t.known[about(b)].body.(*materialsv1.LotReceived); ok && !proto.Equal(bare(was), b) {
			return nil, fault.New(fault.Exists, "lot-received",
				fmt.Sprintf("%slot: %s was received otherwise: %s", at, l.ID, receipt(was)),
				"nothing was stored; take the row out, or withdraw the receipt first if it was wrong: see seamwright tell --help")
		}
		out = append(out, b)
	}
	return out, nil
}

// receipt says what came in.
func receipt(b *materialsv1.LotReceived) string {
	s := fmt.Sprintf("%d cartridges of %s", b.GetCartridges(), b.GetProductId())
	if b.GetExpires() != nil {
		s += ", use by " + moment(b.GetExpires().AsTime())
	}
	if b.GetCost() != "" {
		s += ", " + b.GetCost() + " " + b.GetCurrency() + " each"
	}
	return s
}

func lotFact(at string, l intake.Lot, p *materialsv1.ProductDefined) (*materialsv1.LotReceived, error) {
	b := &materialsv1.LotReceived{LotId: l.ID, ProductId: l.ProductID, Cartridges: int32(l.Cartridges), Cost: l.Cost, Currency: l.Currency}
	if !l.Expires.IsZero() {
		b.Expires = timestamppb.New(l.Expires)
	}
	if l.ReceivedML > 0 {
		n := l.ReceivedML / p.GetCartridgeMl()
		whole := math.Round(n)
		if math.Abs(n-whole) > 1e-6 || whole < 1 || whole > 100_000 {
			return nil, fault.Bad(at+"received_ml", l.ReceivedML,
				fmt.Sprintf("whole cartridges of %g ml each, 1 to 100000 of them; give their number in cartridges", p.GetCartridgeMl()))
		}
		b.Cartridges = int32(whole)
	}
	return b, nil
}
