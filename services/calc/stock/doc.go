// Package stock reckons what a shop has to know of its sealer: how much of a
// product it uses, when and how much to order, what will expire before it is
// used, and what a seam and a job cost.
//
// # Demand and ordering
//
// Demand per period has a mean and a standard deviation; the period and the
// unit (cartridges, ml) are the caller's, as long as they are the same
// throughout. [Demanded] takes them from dated uses. [ReorderPoint] is for
// normal demand over a lead time that may vary, [PoissonPoint] for slow movers
// counted in whole units. What they are asked for is the cycle service level:
// the chance that a delivery comes before the shelf is empty. [EOQ] gives the
// quantity that makes orders and stock cost the least, [Pack] fits it to packs,
// [Advise] puts them together for one product. Where a shop knows what being
// short costs, [RQ] and [SS] find reorder point and quantity together.
//
// Formulas are those of Snyder and Shen, Fundamentals of Supply Chain Theory,
// 2nd edition, chapters 3 to 5, and of Zheng and Federgruen, Operations
// Research 39 (1991), unless another source is named.
//
// # Expiry
//
// [Foresee] walks first expired first out through the stock at the expected
// use: what is not used by its date, or by the end of its opened life, is told
// with the day. A shelf life holds only for what is stored cool enough, see
// [ShelfLifeHolds].
//
// # Cost
//
// [Costs] charges each seam with what was laid on it and with its share of
// what was lost on the way: purge and hold-up by the seams of the same nozzle,
// what was equalised away or thrown away by the seams of the same cartridge,
// both in proportion to what was laid. Shares add up to the last
// ten-thousandth. What no seam can be charged with is the shop's.
//
// Nothing here knows the time of day: moments are arguments. Errors are faults
// of kind Invalid that name the value, the limit and what to do.
package stock
