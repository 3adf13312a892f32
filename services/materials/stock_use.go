package materials

import (
	"fmt"
	"math"
	"strconv"
	"time"

	materialsv1 "seamwright/proto/seamwright/materials/v1"
	"seamwright/services/calc/quantity"
	"seamwright/services/calc/stock"
	"seamwright/services/floor"
)

// What is known of a product's use.
const (
	useKnown   = "known"
	useNone    = "none"    // nothing was used in the time looked at
	useUnknown = "unknown" // too short a time is known of
)

// wanted is how long use must be known before anything is said of it (common
// practice, no source: two whole weeks are the least that differ).
const wanted = 2 * week

// demand is a week's use in ml, over the weeks that were asked for or as long
// as use is known, and notes what is known of it.
func (q stockQuery) demand(f *floor.Floor, id floor.ProductID, now time.Time, out *materialsv1.ProductStock) (d stock.Demand, err error) {
	drawn := f.Drawn(id)
	from, known := now.Add(-time.Duration(q.weeks)*week), f.Begun()
	if from.Before(known) {
		known = knownSince(f, id, drawn)
		from = later(from, known)
	}
	if now.Sub(from) < wanted {
		out.Use, out.Why = useUnknown, tooShort(known, now)
		return d, nil
	}
	total := 0.0
	var uses []stock.Use
	for _, u := range drawn {
		if whole := now.Sub(from).Truncate(week); !u.At.Before(now.Add(-whole)) && u.At.Before(now) {
			uses = append(uses, stock.Use{At: u.At, Amount: u.ML})
			total += u.ML
		}
	}
	if total == 0 {
		out.Use, out.Why = useNone, fmt.Sprintf("nothing of it was used in %d weeks; order for the job that wants it", int(now.Sub(from)/week))
		return d, nil
	}
	out.Use = useKnown
	return stock.Demanded(uses, from, now, week)
}

// knownSince is since when a product's use is known: the shop's first fact, or
// the first delivery or use of it where that was told afterwards with its age.
func knownSince(f *floor.Floor, id floor.ProductID, drawn []floor.Drawn) time.Time {
	known := f.Begun()
	if len(drawn) > 0 && drawn[0].At.Before(known) {
		known = drawn[0].At
	}
	for _, lid := range f.Lots() {
		if f.Lot(lid).Product != id {
			continue
		}
		if t, ok := f.Trace(lid); ok && !t.Received.IsZero() && t.Received.Before(known) {
			known = t.Received
		}
	}
	return known
}

func later(a, b time.Time) time.Time {
	if a.Before(b) {
		return b
	}
	return a
}

// tooShort says since when use is known and from when on something can be said
// of it.
func tooShort(known, now time.Time) string {
	since := "a day or less"
	if n := int(now.Sub(known) / day); n > 1 {
		since = fmt.Sprintf("%d days", n)
	}
	return fmt.Sprintf("its use is known since %s, %s; two weeks are wanted, which is from %s on: order by experience until then",
		known.UTC().Format(time.DateOnly), since, known.Add(wanted).UTC().Format(time.DateOnly))
}

// advice says in a sentence why something is to be ordered, or not yet, and
// what the time until a delivery is made of.
func advice(shelf int32, lead time.Duration, a stock.Advice) string {
	on := fmt.Sprintf("%d cartridges are on the shelf", shelf)
	if shelf == 1 {
		on = "1 cartridge is on the shelf"
	}
	used := fmt.Sprintf("until a delivery (%s days on its way, and 1 until somebody looks at the shelf) %s are used", strconv.FormatFloat(lead.Hours()/24, 'f', -1, 64), quantity.Round(a.During, 2))
	safety := fmt.Sprintf(", %s more are kept for safety", quantity.Round(math.Max(0, a.Safety), 2))
	switch {
	case shelf == 0 && a.Point == 0:
		return "none is on the shelf, and so little is used that it is ordered when the last is taken: " + used
	case a.Order == 0 && a.Point == 0:
		return on + "; order when none is left: " + used
	case a.Order == 0:
		return fmt.Sprintf("%s; order when %d or fewer are left: %s%s", on, a.Point, used, safety)
	}
	return fmt.Sprintf("%s, and at %d or fewer it is time to order: %s%s", on, a.Point, used, safety)
}

// tell puts what is expected of a stock into words that say at which use.
func tell(out *materialsv1.ProductStock, o stock.Outlook, now time.Time) {
	at := ""
	switch out.Use {
	case useKnown:
		at = fmt.Sprintf(" at %s cartridges a week", quantity.Round(out.GetWeeklyUse(), 2))
	case useNone:
		at = ", and nothing of it was used lately"
	case useUnknown:
		at = " unless it is used by then: how much a week takes is not known yet"
	}
	if o.RunsOut.After(now) {
		out.RunsOut = moment(o.RunsOut)
	}
	for _, l := range o.Lapses {
		why := l.Why + at
		if l.Past {
			why = l.Why
		}
		out.Lapses = append(out.Lapses, &materialsv1.StockLapse{
			LotId: l.LotID, CartridgeId: l.CartridgeID, Cartridges: int32(l.Cartridges), VolumeMl: float64(l.Volume), At: moment(l.At), Why: why, Past: l.Past,
		})
	}
}
