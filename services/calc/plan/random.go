package plan

import "math/bits"

// dice is the generator SplitMix64 (Steele, Lea and Flood 2014): a seed gives
// the same numbers on every machine and with every version of Go.
type dice struct{ s uint64 }

func newDice(seed uint64) *dice { return &dice{seed*0x9e3779b97f4a7c15 + 0x1234567} }

func (d *dice) next() uint64 {
	d.s += 0x9e3779b97f4a7c15
	z := d.s
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// below is a number from 0 to n-1, n above 0.
func (d *dice) below(n int) int {
	hi, _ := bits.Mul64(d.next(), uint64(n))
	return int(hi)
}

// shuffle puts a list into random order.
func (d *dice) shuffle(x []int32) {
	for i := len(x) - 1; i > 0; i-- {
		j := d.below(i + 1)
		x[i], x[j] = x[j], x[i]
	}
}
