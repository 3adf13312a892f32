package app_test

import (
	"testing"
	"time"

	"github.com/nats-io/nats-server/v2/server"

	"seamwright/services/access"
	"seamwright/services/app"
	"seamwright/services/booth"
	"seamwright/services/floor"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/natsd"
	"seamwright/services/rpc"
)

// natsGone takes the shop's server away from a process that lives on it, and
// brings it back.
func natsGone(t *testing.T, got *cells) {
	const gone, back, name = "NATS gone", "NATS back", floor.HoldJournalSilent
	o := &server.Options{
		ServerName: "matrix", Host: "127.0.0.1", Port: server.RANDOM_PORT, StoreDir: t.TempDir(),
		JetStream: true, SyncAlways: true, NoSigs: true, NoLog: true,
	}
	s := serveNATS(t, o)
	url := s.ClientURL()
	r := newReal(t)
	r.past(url, 1)
	people, err := access.Load("../../testdata/shop/people.yaml")
	if err != nil {
		t.Fatal(err)
	}
	r.serve(app.Options{
		People: people, Clock: r.clock,
		Apart: &app.Apart{NATS: url, Services: append(rpc.Services(), app.Board), Proof: r.proof},
	})
	defer r.close()
	r.listen(url)
	r.leave()

	since := r.beatCount()
	s.Shutdown()
	s.WaitForShutdown()
	r.closes(gone, name, "The journal does not answer.", since, got)
	r.refused(gone, name, got)

	since = r.beatCount()
	serveNATS(t, o)
	r.until("the program is sound again", func() bool {
		for _, n := range reasonsOf(r.gate().GetReasons()) {
			if floor.OfProcess(n) && r.gate().GetPermit() == nil {
				return false
			}
		}
		return len(r.permits()) == r.mark+1
	})
	r.stays(back, name+"|"+floor.HoldBusSilent+"|"+booth.EndedNewHolder+"|"+floor.HoldOtherHolder, since)
	for _, f := range []string{running, screen, heartbeat} {
		got.note(back, f, "HOLD until asked")
	}
	got.note(back, request, "leave for who asks again")
}

// past tells the past of a shop on so many servers.
func (r *real) past(url string, replicas int) {
	r.t.Helper()
	nc, err := natsd.Dial(url, "test", quiet())
	if err != nil {
		r.t.Fatal(err)
	}
	defer nc.Close()
	j, err := jet.Open(r.t.Context(), nc, jet.Options{Shop: "shop", Replicas: replicas})
	if err != nil {
		r.t.Fatal(err)
	}
	r.store = j
	r.furnish()
}

// serveNATS runs a server until the test ends. One without a port takes any
// and keeps it.
func serveNATS(t *testing.T, o *server.Options) *server.Server {
	t.Helper()
	s, err := server.NewServer(o.Clone())
	if err != nil {
		t.Fatal(err)
	}
	s.Start()
	if !s.ReadyForConnections(10 * time.Second) {
		t.Fatal("the server does not start")
	}
	t.Cleanup(func() {
		s.Shutdown()
		s.WaitForShutdown()
	})
	if o.Port == server.RANDOM_PORT {
		at, ok := s.Addr().(interface{ String() string })
		if !ok {
			t.Fatal("the server has no address")
		}
		_, o.Port = splitPort(t, at.String())
	}
	return s
}
