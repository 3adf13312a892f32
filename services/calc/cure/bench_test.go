package cure

import (
	"fmt"
	"runtime"
	"testing"
	"time"
)

// day is a course with a reading every two minutes around the clock.
func day(b *testing.B, readings int) *Course {
	c := must(NewCourse(bay()))
	for i := range readings {
		temp := 20 + float64(i%17)/20
		if _, err := c.Append(Reading{At: minute(float64(2 * i)), C: temp}); err != nil {
			b.Fatal(err)
		}
	}
	return c
}

func BenchmarkAppend(b *testing.B) {
	for _, laws := range []int{1, 16, 64} {
		b.Run(fmt.Sprintf("laws=%d", laws), func(b *testing.B) {
			c := day(b, 720)
			var ls []Law
			for i := range laws {
				ls = append(ls, must(NewBand(45e3+float64(i), 60e3, 21)))
			}
			at := minute(1440)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := c.Append(Reading{At: at, C: 20}); err != nil {
					b.Fatal(err)
				}
				for _, l := range ls {
					c.upTo(l, Cold, c.Len())
					c.upTo(l, Hot, c.Len())
				}
				at = at.Add(time.Minute)
			}
		})
	}
}

func BenchmarkAge(b *testing.B) {
	for _, readings := range []int{1_000, 100_000} {
		b.Run(fmt.Sprintf("readings=%d", readings), func(b *testing.B) {
			c := day(b, readings)
			l := must(DefaultLaw(21))
			from, to := minute(301), minute(float64(2*readings)-1)
			b.ReportAllocs()
			for b.Loop() {
				c.Hindsight().Age(l, Cold, from, to)
			}
		})
	}
}

func BenchmarkDue(b *testing.B) {
	c := day(b, 10_000)
	l := must(DefaultLaw(21))
	at := minute(19_999)
	for what, target := range map[string]float64{"past": 3600, "forecast": 1e7} {
		b.Run(what, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				Due(c.AsOf(at), l, Cold, minute(10_001), target, at, nil)
			}
		})
	}
}

func BenchmarkJudge(b *testing.B) {
	c := day(b, 10_000)
	clock := Clock{Kind: Ready, Law: must(DefaultLaw(21)), From: minute(19_980), Needed: 45 * time.Minute, Tolerance: 0.1}
	move := must(NewPath(Span{From: t0, Zones: []*Course{c}}, Span{From: minute(19_990), Zones: []*Course{c, day(b, 10_000)}}))
	for what, s := range map[string]Surroundings{"zone": c, "moved": move} {
		b.Run(what, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				Judge(s, clock, minute(20_001))
			}
		})
	}
}

// inUse is the size of what is alive on the heap.
func inUse() uint64 {
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}

// The cost of a reading must not depend on how many clocks are running.
func BenchmarkKeeperReading(b *testing.B) {
	for _, clocks := range []int{1_000, 100_000} {
		b.Run(fmt.Sprintf("clocks=%d", clocks), func(b *testing.B) {
			c := day(b, 720)
			k := NewKeeper[uint64](c)
			l := must(DefaultLaw(21))
			before := inUse()
			for i := range clocks {
				// Far in the future, so that none falls due meanwhile.
				if err := k.Begin(uint64(i), l, Side(i%2), minute(float64(i%1400)), 1e9+float64(i)); err != nil {
					b.Fatal(err)
				}
			}
			size := float64(inUse()-before) / float64(clocks)
			at := minute(1440)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := c.Append(Reading{At: at, C: 20}); err != nil {
					b.Fatal(err)
				}
				k.Advance(at)
				k.NextDue(at)
				at = at.Add(2 * time.Minute)
			}
			b.ReportMetric(size, "B/clock")
		})
	}
}
