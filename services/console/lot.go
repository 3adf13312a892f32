package console

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/types/known/timestamppb"

	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// Lot asks a running shop where a lot went.
type Lot struct {
	At
	Lot string
}

type lotAnswer struct {
	Lot        string      `json:"lot"`
	Product    *string     `json:"product"`
	Received   *string     `json:"received"`
	Cartridges int         `json:"cartridges"`
	Expires    *string     `json:"expires"`
	Recalled   *string     `json:"recalled"`
	Why        *string     `json:"recall_why"`
	Balance    *lotBalance `json:"balance"` // null: never received
	Uses       []lotUse    `json:"uses"`
	Jobs       []string    `json:"jobs"`    // that it reached
	OnHold     []string    `json:"on_hold"` // seams
	Sequence   uint64      `json:"sequence"`
	Now        string      `json:"now"`
}

type lotBalance struct {
	ReceivedML    float64 `json:"received_ml"`
	ShelfML       float64 `json:"shelf_ml"`
	OpenedML      float64 `json:"opened_ml"`
	LaidML        float64 `json:"laid_ml"`
	SpentML       float64 `json:"spent_ml"`
	DiscardedML   float64 `json:"discarded_ml"`
	UnexplainedML float64 `json:"unexplained_ml"`
}

type lotUse struct {
	Sequence  uint64   `json:"sequence"`
	Laid      *string  `json:"laid"`
	RO        string   `json:"ro"`
	Seam      string   `json:"seam"`
	Layer     string   `json:"layer"`
	Cartridge string   `json:"cartridge"`
	VolumeML  *float64 `json:"volume_ml"`
	Basis     string   `json:"basis"`
	PlannedML *float64 `json:"planned_ml"` // where a weight or a mark corrected it
	State     string   `json:"state"`
	OnHold    bool     `json:"on_hold"`
	Finding   *string  `json:"finding"`
	Answer    *string  `json:"answer"`
	By        *string  `json:"answered_by"`
	Removed   *string  `json:"removed"`
}

// Run asks for the trace.
func (q Lot) Run(ctx context.Context, o Out) error {
	if q.Lot == "" {
		return missing("LOT", "the lot number on the box, like L-2601")
	}
	if !floorID.MatchString(q.Lot) {
		return fault.Bad("LOT", show(q.Lot), idForm)
	}
	var a lotAnswer
	err := q.with(ctx, func(c grpc.ClientConnInterface) error {
		r, err := materialsv1.NewMaterialsServiceClient(c).TraceLot(ctx, &materialsv1.TraceLotRequest{LotId: q.Lot})
		a = lotTraced(r)
		return err
	})
	if err != nil {
		return err
	}
	return o.put(a)
}

func lotTraced(r *materialsv1.TraceLotResponse) lotAnswer {
	l := r.GetLot()
	a := lotAnswer{
		Lot: l.GetLotId(), Product: name(l.GetProductId()), Received: maybeMoment(r.GetReceived()), Cartridges: int(r.GetCartridges()), Expires: maybeMoment(l.GetExpires()),
		Recalled: maybeMoment(r.GetRecalled()), Why: name(r.GetRecallWhy()), Uses: []lotUse{}, Jobs: []string{}, OnHold: []string{},
		Sequence: r.GetSequence(), Now: moment(r.GetNow().AsTime()),
	}
	if r.GetReceived() != nil {
		a.Balance = &lotBalance{l.GetReceivedMl(), l.GetShelfMl(), l.GetOpenedMl(), l.GetLaidMl(), l.GetPurgedMl(), l.GetDiscardedMl(), l.GetUnexplainedMl()}
	}
	for _, u := range r.GetUses() {
		a.Uses = append(a.Uses, lotUse{
			Sequence: u.GetSequence(), Laid: maybeMoment(u.GetLaid()), RO: u.GetRo(), Seam: u.GetSeamId(), Layer: floor.Word(u.GetLayer()),
			Cartridge: u.GetCartridgeId(), VolumeML: u.VolumeMl, Basis: floor.Word(u.GetBasis()), PlannedML: u.PlannedMl, State: u.GetJobState(),
			OnHold: u.GetOnHold(), Finding: name(u.GetFindingId()), Answer: name(floor.Word(u.GetDisposition())), By: name(u.GetAnsweredBy()), Removed: maybeMoment(u.GetRemoved()),
		})
		if !slices.Contains(a.Jobs, u.GetRo()) {
			a.Jobs = append(a.Jobs, u.GetRo())
		}
		if u.GetOnHold() && !slices.Contains(a.OnHold, u.GetSeamId()) {
			a.OnHold = append(a.OnHold, u.GetSeamId())
		}
	}
	slices.Sort(a.Jobs)
	slices.Sort(a.OnHold)
	return a
}

// maybeMoment is a moment of an answer, or null.
func maybeMoment(t *timestamppb.Timestamp) *string {
	if t == nil {
		return nil
	}
	return stamp(t.AsTime())
}

// Lines is the trace for people.
func (a lotAnswer) Lines() []string {
	head := "lot " + a.Lot
	if a.Balance == nil {
		head += ": never received; product, date and balance are not known"
	} else {
		head += fmt.Sprintf(" of %s: %s received %s", *a.Product, counted(a.Cartridges, "cartridge"), *a.Received)
		if a.Expires != nil {
			head += ", use by " + *a.Expires
		}
	}
	out := []string{head}
	if a.Recalled != nil {
		out = append(out, fmt.Sprintf("RECALLED %s: %s", *a.Recalled, oneLine(*a.Why)))
	}
	if b := a.Balance; b != nil {
		out = append(out, fmt.Sprintf("%s received = %s on the shelf + %s in opened cartridges + %s laid + %s purged and equalised + %s thrown away %s unexplained",
			mlText(b.ReceivedML), mlText(b.ShelfML), mlText(b.OpenedML), mlText(b.LaidML), mlText(b.SpentML), mlText(b.DiscardedML), signed(b.UnexplainedML)))
	}
	if len(a.Uses) == 0 {
		return append(out, "nothing was laid of it")
	}
	rows := [][]string{{"laid", "seam", "layer", "cartridge", "volume", "from", "job", ""}}
	for _, u := range a.Uses {
		rows = append(rows, []string{*u.Laid, u.Seam, u.Layer, u.Cartridge, u.volume(), u.basis(), u.State, u.standing()})
	}
	out = append(append(out, ""), table(rows)...)
	return append(out, "", fmt.Sprintf("%s in %s, %s on hold", counted(len(a.Uses), "layer"), counted(len(a.Jobs), "job"), counted(len(a.OnHold), "seam")))
}

// counted is a number of things in words: "1 seam", "2 seams".
func counted(n int, what string) string {
	if n != 1 {
		what += "s"
	}
	return fmt.Sprintf("%d %s", n, what)
}

// mlText shows a volume to a tenth of a millilitre; with --json it is as it is
// kept.
func mlText(ml float64) string {
	tenths := math.Round(ml*10) / 10
	if tenths == 0 {
		tenths = 0 // not "-0"
	}
	return strconv.FormatFloat(tenths, 'f', -1, 64) + " ml"
}

// signed is a volume in a sum: "+ 2 ml", "- 2 ml".
func signed(ml float64) string {
	if math.Round(ml*10) < 0 {
		return "- " + mlText(-ml)
	}
	return "+ " + mlText(ml)
}

func (u lotUse) volume() string {
	if u.VolumeML == nil {
		return "unknown"
	}
	return mlText(*u.VolumeML)
}

func (u lotUse) basis() string {
	switch {
	case u.PlannedML != nil:
		return "planned " + mlText(*u.PlannedML) + ", corrected"
	case u.Basis == "with-bead":
		return "counts with the bead"
	}
	return u.Basis
}

func (u lotUse) standing() string {
	switch {
	case u.Removed != nil:
		return "taken off " + *u.Removed
	case u.OnHold:
		return "ON HOLD, finding " + *u.Finding
	case u.Answer != nil && u.By != nil:
		return *u.Answer + " by " + typed(*u.By)
	}
	return ""
}
