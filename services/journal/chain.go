package journal

import "context"

// Chainer is a Journal that can send records ahead.
type Chainer interface {
	// Chain stores records directly behind number expect, one after the
	// other, each only directly behind the one before it. It does not wait
	// for one before it sends another: it takes from next whatever may follow,
	// at first and each time that a record was stored, and ends when all are
	// stored that it took. It calls stored for each one that is on disk, in
	// order, as soon as that is known.
	//
	// n is how many were stored: the first ones. The error is that of the
	// first one that was not; then none behind it was stored, or, if its
	// outcome is not known, that of those behind it is not known either.
	Chain(ctx context.Context, expect uint64, next func() (Record, bool), stored func()) (n int, err error)
}

// Chain is that of a journal, made of appends that are waited for if it
// cannot send ahead: for those that stand before another journal.
func Chain(ctx context.Context, j Journal, expect uint64, next func() (Record, bool), stored func()) (n int, err error) {
	if c, ok := j.(Chainer); ok {
		return c.Chain(ctx, expect, next, stored)
	}
	for r, ok := next(); ok; r, ok = next() {
		if _, err := j.Append(ctx, expect+uint64(n), r); err != nil {
			return n, err
		}
		stored()
		n++
	}
	return n, nil
}
