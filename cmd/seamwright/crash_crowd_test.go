package main

import (
	"context"
	"fmt"
	"sync"
	"testing"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	curesv1 "seamwright/proto/seamwright/cures/v1"
	floorv1 "seamwright/proto/seamwright/floor/v1"
	jobsv1 "seamwright/proto/seamwright/jobs/v1"
)

// crowdSize is how many people tell facts at the same time; one probe more
// tells readings.
const crowdSize = 4

// crowd is the people and the probe. Each remembers what was acknowledged and
// tells what was not again, with the same command id, when the shop is back.
type crowd struct {
	t    *testing.T
	all  []*poster
	busy sync.WaitGroup
	end  context.CancelFunc
	acks chan struct{} // one for each acknowledgement
}

// told is a fact with what came of it.
type told struct {
	id   string
	body proto.Message
	seq  uint64 // 0: never acknowledged
}

type poster struct {
	name    string
	n       int
	make    func(n int) (st *floorv1.Stamp, req any)
	stamp   *floorv1.Stamp
	pending any // sent and not acknowledged
	told    []*told
}

func newCrowd(t *testing.T) *crowd {
	c := &crowd{t: t, acks: make(chan struct{}, 1<<20)}
	for i := range crowdSize {
		name := fmt.Sprint("p", i+1)
		c.all = append(c.all, &poster{name: name, make: func(n int) (*floorv1.Stamp, any) {
			st := crowdStamp(name, n, floorv1.Role_ROLE_TECHNICIAN, "bay-1-tablet")
			ro := fmt.Sprintf("%s-%d", name, n/4)
			switch n % 4 {
			case 0:
				return st, jobOpened(st, ro)
			case 1:
				return st, surveyed(st, ro+"/rd-l")
			case 2:
				return st, beadLaid(st, ro+"/rd-l", "C"+name[1:], "N"+name[1:])
			}
			return st, &jobsv1.RecordRequest{Stamp: st, Fact: &jobsv1.RecordRequest_BeadTooled{BeadTooled: &jobsv1.BeadTooled{SeamId: ro + "/rd-l"}}}
		}})
	}
	c.all = append(c.all, &poster{name: "probe", make: func(n int) (*floorv1.Stamp, any) {
		st := crowdStamp("probe", n, floorv1.Role_ROLE_TECHNICIAN, "desk")
		return st, &curesv1.RecordRequest{Stamp: st, Fact: &curesv1.RecordRequest_ReadingTaken{ReadingTaken: &curesv1.ReadingTaken{
			ZoneId: []string{"bay-1", "room"}[n%2], ByHand: true, TempC: 21 + float64(n%5)/20, // by hand: none is thinned
		}}}
	}})
	return c
}

func crowdStamp(name string, n int, role floorv1.Role, terminal string) *floorv1.Stamp {
	return &floorv1.Stamp{
		CommandId: fmt.Sprintf("crowd-%s-%06d", name, n), Actor: "Tamsin Orrable", Role: role, Terminal: terminal,
		Age: &floorv1.Age{Kind: floorv1.AgeKind_AGE_KIND_LIVE},
	}
}

// work lets everybody tell facts until rest, or until the shop is gone.
func (c *crowd) work(conn *grpc.ClientConn) {
	ctx, cancel := context.WithCancel(c.t.Context())
	c.end = cancel
	s := clientsOf(conn)
	for _, p := range c.all {
		c.busy.Go(func() { p.work(ctx, s, c.acks) })
	}
}

// rest waits until nobody talks any more.
func (c *crowd) rest() {
	c.end()
	c.busy.Wait()
}

func (p *poster) work(ctx context.Context, s clients, acks chan<- struct{}) {
	for ctx.Err() == nil {
		if p.pending == nil {
			p.stamp, p.pending = p.make(p.n)
			p.n++
			p.told = append(p.told, &told{id: p.stamp.GetCommandId(), body: factOf(p.pending)})
		}
		r, err := p.send(ctx, s)
		if err != nil {
			return // told again when the shop is back
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

func (c *crowd) acknowledged() (n int) {
	for _, p := range c.all {
		for _, f := range p.told {
			if f.seq > 0 {
				n++
			}
		}
	}
	return n
}

// check compares what was told with the journal: acknowledged facts stand
// once, where the receipt said and as they were told; others once or never.
func (c *crowd) check(entries []*floorv1.Entry) {
	c.t.Helper()
	at := map[string][]*floorv1.Entry{}
	for _, e := range entries {
		at[e.GetCommandId()] = append(at[e.GetCommandId()], e)
	}
	for id, es := range at {
		if id != "" && len(es) != 1 {
			c.t.Errorf("command %s stands %d times", id, len(es))
		}
	}
	for _, p := range c.all {
		for _, f := range p.told {
			c.one(f, at[f.id])
		}
	}
}

func (c *crowd) one(f *told, es []*floorv1.Entry) {
	c.t.Helper()
	switch {
	case f.seq > 0 && len(es) == 0:
		c.t.Errorf("%s was acknowledged as event %d and is gone", f.id, f.seq)
	case len(es) == 0:
	case f.seq > 0 && es[0].GetSequence() != f.seq:
		c.t.Errorf("%s was acknowledged as event %d and stands at %d", f.id, f.seq, es[0].GetSequence())
	default:
		stored := bodyOf(c.t, es[0])
		m := stored.ProtoReflect()
		m.Clear(m.Descriptor().Fields().ByName("assessment")) // the server's own word about it
		if !proto.Equal(stored, f.body) {
			c.t.Errorf("%s was told as\n%v and is stored as\n%v", f.id, f.body, stored)
		}
	}
}
