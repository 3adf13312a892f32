//go:build linux

package main

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

var powerCuts = flag.Int("power.cuts", 5, "how often the power cut test cuts the power under load, and at a start")

// TestPowerCut cuts the power of the disk under a shop. What was written and
// not flushed is lost, kept or torn, as disks do. The shop opens on what is
// left, with the same promises as after a killed process.
func TestPowerCut(t *testing.T) {
	needsPower(t)
	bin := build(t)
	t.Run("under load", func(t *testing.T) { underLoad(t, bin) })
	t.Run("at the first start", func(t *testing.T) { atFirstStart(t, bin) })
	t.Run("on a disk that lies", func(t *testing.T) { onLyingDisk(t, bin) })
}

// underLoad cuts it while several terminals and probes tell facts, and
// sometimes once more while the shop opens again.
func underLoad(t *testing.T, bin string) {
	p := newPower(t, bin)
	p.mount(manners[0])
	p.bring("people.yaml")
	p.start()
	p.furnish()
	crowd := newCrowd(t)
	for n := range *powerCuts {
		crowd.work(p.conn, crowdOf(n))
		p.load(n, crowd)
		person, reader := p.enrol(n)
		how := p.cutPower(n)
		crowd.rest()
		p.unmount()
		if n%manyEvery == 2 {
			p.cutStart(1+n*7%20, manners[n%len(manners)], fate{fates[n%len(fates)], uint64(n)})
		}
		p.mount(manners[(n+1)%len(manners)])
		p.enrolled(person, reader)
		if n%manyEvery == 0 {
			p.verify()
		}
		p.start()
		p.after(n, crowd)
		if t.Failed() {
			t.Fatalf("after cut %d (%s)", n+1, how)
		}
		if n%50 == 49 {
			t.Logf("%d done, the journal stands at %d", n+1, p.ledger.seq())
		}
	}
	p.whole()
	p.account(crowd, *powerCuts)
}

// cutPower cuts it: at a moment at which the program stands still with nothing
// on its way to the disk, or in the midst of what the disk is told to do.
func (p *power) cutPower(n int) string {
	p.t.Helper()
	f := fate{fates[n%len(fates)], uint64(n)}
	how := "in the midst of the disk's work"
	if (n+n/len(fates))%2 == 0 {
		how = "between two writes"
		p.freeze()
		p.disk.cut(f)
	} else {
		p.await(p.disk.cutAfter(1+rand.New(f.source()).IntN(200), f))
	}
	p.image = p.disk.image
	p.end()
	return fmt.Sprintf("%s; what was not flushed was %s, seed %d", how, f.kind, f.seed)
}

func (f fate) source() rand.Source { return rand.NewPCG(f.seed, 11) }

func (p *power) await(gone <-chan struct{}) {
	p.t.Helper()
	select {
	case <-gone:
	case <-time.After(givesUp):
		p.t.Fatal("the disk is not used any more")
	}
}

// atFirstStart cuts it while a shop opens for the first time, or the second,
// at one request to the disk after the other.
func atFirstStart(t *testing.T, bin string) {
	p := newPower(t, bin)
	empty := p.image
	for n := range *powerCuts {
		f := fate{fates[n%len(fates)], uint64(n)}
		p.image, p.ledger = slices.Clone(empty), newLedger(t)
		if opened := p.cutStart(1+n*7%60, manners[n%len(manners)], f); opened {
			p.cutStart(1+n*3%20, manners[n%len(manners)], f)
		}
		p.mount(manners[0])
		p.bring("people.yaml")
		p.start()
		p.whole()
		if n == 0 {
			p.furnish()
		}
		p.end()
		p.unmount()
		if t.Failed() {
			t.Fatalf("in cut %d, what was not flushed was %s", n+1, f.kind)
		}
	}
}

// cutStart starts the shop and cuts the power at a request to the disk, or
// when it is open.
func (p *power) cutStart(request int, manner string, f fate) (opened bool) {
	p.t.Helper()
	p.mount(manner)
	gone := p.disk.cutAfter(request, f)
	cmd := p.up()
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		p.t.Fatal(err)
	}
	p.cmd, p.conn = cmd, nil
	opens := make(chan struct{})
	go func() {
		_, _ = out.Read(make([]byte, 1))
		close(opens)
	}()
	select {
	case <-gone:
	case <-opens:
		opened = true
		p.disk.cut(f)
	case <-time.After(givesUp):
		p.t.Fatal("the shop neither opens nor uses its disk")
	}
	p.image = p.disk.image
	p.end()
	p.unmount()
	return opened
}

// enrol puts a person into the shop and a reader onto its bus, now and then.
func (p *power) enrol(n int) (person, reader string) {
	p.t.Helper()
	if n%4 != 1 {
		return "", ""
	}
	person, reader = fmt.Sprint("Hand ", n), fmt.Sprint("wall-", n)
	p.run("4711\n", "person", "--dir", p.dir, "--name", person, "--role", "technician")
	p.run("", "bus-user", "--dir", p.dir, "--kind", "reader", "--name", reader)
	return person, reader
}

// enrolled asks that who was enrolled before the cut is so after it.
func (p *power) enrolled(person, reader string) {
	p.t.Helper()
	p.holds("people.yaml", "Tamsin Orrable", person)
	if reader != "" {
		p.holds("bus.yaml", reader)
	}
}

func (p *power) holds(file string, names ...string) {
	p.t.Helper()
	b, err := os.ReadFile(filepath.Join(p.dir, file))
	for _, name := range names {
		if err != nil || !strings.Contains(string(b), name) {
			p.t.Errorf("%q stood in %s before the cut and does not after it: %v", name, file, err)
		}
	}
}

// TestPowerCutWithoutSync runs the same on a build of the program that
// acknowledges before it writes: what was acknowledged must be found to be
// gone, else the test above would not see it either.
func TestPowerCutWithoutSync(t *testing.T) {
	needsPower(t)
	p := newPower(t, build(t, "unsafe_nosync"))
	p.lossy(3, func() {
		if said, _ := os.ReadFile(p.said); !strings.Contains(string(said), "MUST NOT BE USED") {
			t.Fatalf("the build does not say that it must not be used:\n%s", said)
		}
	})
}

// onLyingDisk is a disk that says that it has flushed and has not: no program
// can help it, and the test must see it.
func onLyingDisk(t *testing.T, bin string) {
	p := newPower(t, bin)
	p.lossy(1, func() { p.disk.lie() })
}

// lossy cuts the power of a shop that is bound to lose facts, and asks that it
// does so within a number of cuts. ready is called when the shop is open.
func (p *power) lossy(cuts int, ready func()) {
	p.t.Helper()
	empty := p.image
	lossy, noticed := 0, 0
	for n := range cuts {
		// Each time on a disk of its own: a shop that has lost its past
		// cannot be asked about it again.
		p.image, p.ledger = slices.Clone(empty), newLedger(p.t)
		p.mount(manners[n%len(manners)])
		p.bring("people.yaml")
		p.start()
		ready()
		p.furnish()
		crowd := newCrowd(p.t)
		crowd.work(p.conn, few)
		p.load(n, crowd)
		p.freeze()
		p.disk.cut(fate{lost, uint64(n)})
		p.image = p.disk.image
		p.end()
		crowd.rest()
		p.unmount()
		p.mount(manners[0])
		if err := p.tryStart(); err != nil { // the store or its proof refuses
			noticed++
			lossy++
		} else if p.gone(crowd) > 0 {
			lossy++
		}
		if p.cmd != nil {
			p.end()
		}
		p.unmount()
	}
	if lossy == 0 {
		p.t.Errorf("%d power cuts lost nothing although nothing was synced", cuts)
	}
	p.t.Logf("%d of %d power cuts lost acknowledged facts, %d of them were noticed at the next start", lossy, cuts, noticed)
}

// gone counts the acknowledged facts that are not in the journal.
func (p *power) gone(crowd *crowd) (n int) {
	p.t.Helper()
	p.catchUp()
	for _, f := range crowd.facts() {
		if f.seq > 0 && p.ledger.ids[f.id] == nil {
			n++
		}
	}
	return n
}
