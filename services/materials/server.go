package materials

import (
	"context"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/types/known/timestamppb"

	floorv1 "seamwright/proto/seamwright/floor/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/floor"
	"seamwright/services/record"
)

// Server is the gRPC services: what is told and asked about material, and what
// is to be expected of it.
type Server struct {
	materialsv1.UnimplementedMaterialsServiceServer
	materialsv1.UnimplementedStockServiceServer
	desk *record.Desk
}

// NewServer makes the service.
func NewServer(d *record.Desk) *Server { return &Server{desk: d} }

// Register puts the service into a server.
func (s *Server) Register(r grpc.ServiceRegistrar) {
	materialsv1.RegisterMaterialsServiceServer(r, s)
	materialsv1.RegisterStockServiceServer(r, s)
}

// Record stores one fact.
func (s *Server) Record(ctx context.Context, req *materialsv1.RecordRequest) (*materialsv1.RecordResponse, error) {
	r, err := s.desk.Record(ctx, floor.Command{Stamp: req.GetStamp(), Body: record.Fact(req)}, Decide)
	if err != nil {
		return nil, err
	}
	return &materialsv1.RecordResponse{Receipt: r}, nil
}

// ListCartridges shows opened cartridges.
func (s *Server) ListCartridges(ctx context.Context, req *materialsv1.ListCartridgesRequest) (*materialsv1.ListCartridgesResponse, error) {
	resp := &materialsv1.ListCartridgesResponse{}
	err := s.desk.View(ctx, req.GetMinSequence(), func(f *floor.Floor, now time.Time) {
		for _, id := range f.Cartridges() {
			if c := f.Cartridge(id); req.GetWithEmptied() || !c.Emptied {
				resp.Cartridges = append(resp.Cartridges, cartridge(f, c, now))
			}
		}
		resp.Sequence, resp.Now = f.Seq(), timestamppb.New(now)
	})
	if err != nil {
		return nil, err
	}
	return resp, nil
}

// ListStock shows lots with their balance.
func (s *Server) ListStock(ctx context.Context, req *materialsv1.ListStockRequest) (*materialsv1.ListStockResponse, error) {
	resp := &materialsv1.ListStockResponse{}
	err := s.desk.View(ctx, req.GetMinSequence(), func(f *floor.Floor, _ time.Time) {
		for _, id := range f.Lots() {
			resp.Lots = append(resp.Lots, lot(f, f.Lot(id)))
		}
		resp.Sequence = f.Seq()
	})
	if err != nil {
		return nil, err
	}
	return resp, nil
}

func cartridge(f *floor.Floor, c *floor.Cartridge, now time.Time) *materialsv1.Cartridge {
	out := &materialsv1.Cartridge{
		CartridgeId: string(c.ID), LotId: string(c.Lot), ProductId: string(c.Product), RemainingMl: c.Remaining.ML(),
		Equalised: c.Equalised, Purged: c.Purged, NozzleId: string(c.Nozzle), LastFlow: moment(c.LastFlow.At),
		Emptied: c.Emptied, Opened: moment(c.Opened),
	}
	if g, ok := f.Gel(c.ID, now); ok {
		out.Gelled = floor.Enum[floorv1.Answer](g.Reached.String())
		out.GelsBy = moment(g.DueHot)
	}
	return out
}

func lot(f *floor.Floor, l *floor.Lot) *materialsv1.Lot {
	out := &materialsv1.Lot{LotId: string(l.ID), ProductId: string(l.Product), Expires: moment(l.Expires), Recalled: l.Recalled}
	if b, ok := f.Balance(l.ID); ok {
		out.ReceivedMl, out.ShelfMl, out.OpenedMl = b.Received.ML(), b.Shelf.ML(), b.Opened.ML()
		out.LaidMl, out.PurgedMl, out.DiscardedMl, out.UnexplainedMl = b.Laid.ML(), b.Spent.ML(), b.Discarded.ML(), b.Missing.ML()
	}
	return out
}

// moment leaves an unset time out.
func moment(t time.Time) *timestamppb.Timestamp {
	if t.IsZero() {
		return nil
	}
	return timestamppb.New(t)
}
