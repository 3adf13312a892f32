package app_test

import (
	"io"
	"net"
	"net/url"
	"sync"
	"testing"

	boothv1 "seamwright/proto/seamwright/booth/v1"
	"seamwright/services/app"
	"seamwright/services/bus"
)

// A reader that was cut off holds, and when its cable makes contact again it
// does not give back by itself the leave that it showed before, which the gate
// never took back. Another leave it shows.
func TestAReaderThatWasCutOffGivesNoLeaveBackByItself(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	r := newReal(t)
	r.folder(dir)
	r.serve(app.Options{Dir: dir, Bus: "127.0.0.1:0"})
	defer r.close()
	u, err := url.Parse(r.app.Addr().Reader)
	if err != nil {
		t.Fatal(err)
	}
	cable := layCable(t, u.Host)
	u.Host = cable.addr()
	r.listen(u.String())
	r.leave()
	before := r.gate().GetPermit().GetPermitId()

	cable.cut()
	r.until("the reader holds", func() bool { return r.verdict() == bus.Hold })
	cable.mend()
	r.until("the reader hears the gate again", r.brokenOff)
	beat := r.beatCount()
	r.until("the gate goes on", func() bool { return len(r.heard(beat)) >= 4 })
	if !r.brokenOff() {
		t.Errorf("the reader shows %s by itself", r.verdict())
	}
	if g := r.gate(); g.GetPermit().GetPermitId() == before && g.GetSign() != boothv1.Sign_SIGN_CLEAR {
		t.Errorf("the gate: %v", g)
	}
	r.giveBack()
	r.leave()
	if now := r.gate().GetPermit().GetPermitId(); now == before {
		t.Errorf("leave %s was given twice", now)
	}
}

// cable forwards connections to an address until it is cut.
type cable struct {
	to string
	in net.Listener

	mu    sync.Mutex
	whole bool
	ends  []net.Conn
}

func layCable(t *testing.T, to string) *cable {
	t.Helper()
	in, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	c := &cable{to: to, in: in, whole: true}
	var all sync.WaitGroup
	all.Go(func() {
		for {
			near, err := in.Accept()
			if err != nil {
				return
			}
			c.join(near, &all)
		}
	})
	t.Cleanup(func() { in.Close(); c.cut(); all.Wait() })
	return c
}

func (c *cable) addr() string { return c.in.Addr().String() }

func (c *cable) join(near net.Conn, all *sync.WaitGroup) {
	far, err := net.Dial("tcp", c.to)
	c.mu.Lock()
	defer c.mu.Unlock()
	if err != nil || !c.whole {
		near.Close()
		if far != nil {
			far.Close()
		}
		return
	}
	c.ends = append(c.ends, near, far)
	carry := func(to, from net.Conn) {
		_, _ = io.Copy(to, from)
		to.Close()
	}
	all.Go(func() { carry(near, far) })
	all.Go(func() { carry(far, near) })
}

func (c *cable) cut() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.whole = false
	for _, e := range c.ends {
		e.Close()
	}
	c.ends = nil
}

func (c *cable) mend() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.whole = true
}
