package main

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
	materialsv1 "seamwright/proto/seamwright/materials/v1"
)

const (
	crowdSize = 64 // people who may tell facts at the same time, and one probe
	few       = 4  // of them that do so most of the time
	packJobs  = 5  // jobs that one does with a cartridge

	packFacts = 2 + 4*packJobs
)

// crowd is the people and the probe. Each remembers what was acknowledged and
// tells what was not again, with the same command id, when the shop is back.
type crowd struct {
	t       *testing.T
	all     []*poster // the probe is the first
	working int
	busy    sync.WaitGroup
	end     context.CancelFunc
	acks    chan struct{} // one for each acknowledgement
}

// told is a fact with what came of it.
type told struct {
	id    string
	stamp *floorv1.Stamp
	body  proto.Message
	seq   uint64 // 0: never acknowledged
}

type poster struct {
	name    string
	n       int
	most    int // facts in one cycle; 0: as many as it can
	make    func(n int) (st *floorv1.Stamp, req any)
	stamp   *floorv1.Stamp
	pending any // sent and not acknowledged
	told    []*told
	checked int // of told, known to stand as it must

	refused atomic.Pointer[error] // why the last fact has to be told again
}

func newCrowd(t *testing.T) *crowd {
	c := &crowd{t: t, acks: make(chan struct{}, 1<<20)}
	c.all = append(c.all, &poster{name: "probe", most: 8, make: func(n int) (*floorv1.Stamp, any) {
		st := crowdStamp("probe", n, floorv1.Role_ROLE_TECHNICIAN, "desk")
		return st, &curesv1.RecordRequest{Stamp: st, Fact: &curesv1.RecordRequest_ReadingTaken{ReadingTaken: &curesv1.ReadingTaken{
			ZoneId: []string{"bay-1", "room"}[n%2], ByHand: true, TempC: 21 + float64(n%5)/20, // by hand: none is thinned
		}}}
	}})
	for i := range crowdSize {
		name := fmt.Sprint("p", i+1)
		c.all = append(c.all, &poster{name: name, make: func(n int) (*floorv1.Stamp, any) {
			return repair(name, n/packFacts, n%packFacts, crowdStamp(name, n, floorv1.Role_ROLE_TECHNICIAN, "bay-1-"+name))
		}})
	}
	return c
}

// repair is the n-th fact that somebody tells of a cartridge: opened, a nozzle
// on it, then jobs of four facts each.
func repair(name string, pack, n int, st *floorv1.Stamp) (*floorv1.Stamp, any) {
	cartridge, nozzle := fmt.Sprintf("C-%s-%d", name, pack), fmt.Sprintf("N-%s-%d", name, pack)
	ro := jobOf(name, pack, n)
	switch {
	case n == 0:
		return st, &materialsv1.RecordRequest{Stamp: st, Fact: &materialsv1.RecordRequest_CartridgeOpened{CartridgeOpened: &materialsv1.CartridgeOpened{CartridgeId: cartridge, LotId: "L1"}}}
	case n == 1:
		return st, &materialsv1.RecordRequest{Stamp: st, Fact: &materialsv1.RecordRequest_NozzleFitted{NozzleFitted: &materialsv1.NozzleFitted{CartridgeId: cartridge, NozzleId: nozzle, Kind: "round"}}}
	case n%4 == 2:
		return st, jobOpened(st, ro)
	case n%4 == 3:
		return st, surveyed(st, ro+"/rd-l")
	case n%4 == 0:
		return st, beadLaid(st, ro+"/rd-l", cartridge, nozzle)
	}
	return st, &jobsv1.RecordRequest{Stamp: st, Fact: &jobsv1.RecordRequest_BeadTooled{BeadTooled: &jobsv1.BeadTooled{SeamId: ro + "/rd-l"}}}
}

// jobOf is the job that the n-th fact of a cartridge is about.
func jobOf(name string, pack, n int) string { return fmt.Sprintf("%s-%d-%d", name, pack, (n-2)/4) }

func crowdStamp(name string, n int, role floorv1.Role, terminal string) *floorv1.Stamp {
	return &floorv1.Stamp{
		CommandId: fmt.Sprintf("crowd-%s-%06d", name, n), Actor: "Tamsin Orrable", Role: role, Terminal: terminal,
		Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
	}
}

// work lets the probe and the first n people tell facts until rest.
func (c *crowd) work(conn *grpc.ClientConn, n int) {
	for len(c.acks) > 0 { // of before
		<-c.acks
	}
	ctx, cancel := context.WithCancel(c.t.Context())
	c.end, c.working = cancel, n
	s := clientsOf(conn)
	for _, p := range c.all[:n+1] {
		p.refused.Store(nil)
		c.busy.Go(func() { p.work(ctx, s, c.acks) })
	}
}

// until waits until so many facts were acknowledged.
func (c *crowd) until(n int) {
	c.t.Helper()
	limit := time.NewTimer(givesUp)
	defer limit.Stop()
	for range n {
		select {
		case <-c.acks:
			limit.Reset(givesUp)
		case <-limit.C:
			c.t.Fatalf("the shop acknowledges nothing any more:\n%s", c.refusals())
		}
	}
}

// refusals are the errors that people met, other than that the shop went away.
func (c *crowd) refusals() string {
	var all strings.Builder
	for _, p := range c.all[:c.working+1] {
		if err := p.refused.Load(); err != nil {
			fmt.Fprintf(&all, "%s: %v\n", p.stamp.GetCommandId(), *err)
		}
	}
	return all.String()
}

// rest waits until nobody talks any more.
func (c *crowd) rest() {
	c.end()
	c.busy.Wait()
}

func (p *poster) work(ctx context.Context, s clients, acks chan<- struct{}) {
	again := time.NewTicker(100 * time.Millisecond)
	defer again.Stop()
	for n := 0; ctx.Err() == nil && (p.most == 0 || n < p.most); n++ {
		if p.pending == nil {
			p.stamp, p.pending = p.make(p.n)
			p.n++
			p.told = append(p.told, &told{id: p.stamp.GetCommandId(), stamp: p.stamp, body: factOf(p.pending)})
		}
		r, err := p.send(ctx, s)
		if err != nil {
			p.refused.Store(&err)
			select { // it is told again, at the latest when the shop is back
			case <-again.C:
			case <-ctx.Done():
			}
			continue
		}
		p.told[len(p.told)-1].seq = r.GetSequence()
		p.pending = nil
		acks <- struct{}{}
	}
}

func (p *poster) send(ctx context.Context, s clients) (*floorv1.Receipt, error) {
	switch req := p.pending.(type) {
	case *jobsv1.RecordRequest:
		r, err := s.jobs.Record(ctx, req)
		return r.GetReceipt(), err
	case *materialsv1.RecordRequest:
		r, err := s.materials.Record(ctx, req)
		return r.GetReceipt(), err
	case *curesv1.RecordRequest:
		r, err := s.cures.Record(ctx, req)
		return r.GetReceipt(), err
	}
	return nil, fmt.Errorf("nobody takes %T", p.pending)
}

func factOf(req any) proto.Message {
	m := req.(proto.Message).ProtoReflect()
	f := m.WhichOneof(m.Descriptor().Oneofs().ByName("fact"))
	return proto.Clone(m.Get(f).Message().Interface())
}

// facts are all that anybody told.
func (c *crowd) facts() (all []*told) {
	for _, p := range c.all {
		all = append(all, p.told...)
	}
	return all
}

func (c *crowd) acknowledged() (n int) {
	for _, f := range c.facts() {
		if f.seq > 0 {
			n++
		}
	}
	return n
}

// check compares what was told with the journal: acknowledged facts stand
// once, where the receipt said and as they were told; others once or never.
// What was found to stand is not looked at again: the ledger sees to it that
// the journal does not change.
func (c *crowd) check(l *ledger) {
	c.t.Helper()
	for _, p := range c.all {
		for _, f := range p.told[p.checked:] {
			if e := l.ids[f.id]; e != nil {
				c.one(f, e)
			} else if f.seq > 0 {
				c.t.Errorf("%s was acknowledged as event %d and is gone", f.id, f.seq)
			}
		}
		p.checked = len(p.told)
		if p.pending != nil { // its fate is not known yet
			p.checked--
		}
	}
}

func (c *crowd) one(f *told, e *floorv1.Entry) {
	c.t.Helper()
	if f.seq > 0 && e.GetSequence() != f.seq {
		c.t.Errorf("%s was acknowledged as event %d and stands at %d", f.id, f.seq, e.GetSequence())
		return
	}
	stored := bodyOf(c.t, e)
	m := stored.ProtoReflect()
	m.Clear(m.Descriptor().Fields().ByName("assessment")) // the server's own word about it
	if !proto.Equal(stored, f.body) || e.GetActor() != f.stamp.GetActor() || e.GetTerminal() != f.stamp.GetTerminal() || e.GetRole() != f.stamp.GetRole() {
		c.t.Errorf("%s was told as\n%v %v and is stored as\n%v", f.id, f.stamp, f.body, e)
	}
}
