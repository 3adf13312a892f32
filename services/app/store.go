package app

import (
	"context"
	"fmt"
	"net"
	"runtime/debug"
	"strconv"
	"sync/atomic"

	"github.com/nats-io/nats.go"

	"seamwright/services/fault"
	"seamwright/services/floor"
	"seamwright/services/journal"
	"seamwright/services/journal/jet"
	"seamwright/services/journal/memory"
	"seamwright/services/journal/natsd"
	"seamwright/services/journal/tree"
)

// store is the journal and what it stands on.
type store struct {
	journal journal.Journal
	appends *appends     // how they fare; the journal itself
	proof   *tree.Keeper // nil in memory
	conn    *nats.Conn   // nil in memory
	server  *natsd.Server
	reader  localReader  // who may read the shop's folder may read its gates
	users   mark         // the file of the bus's users, as it was when it was read
	floor   *floor.Floor // folded while the journal was proved; nil: not yet
	unlock  func()       // frees the proof's folder; nil: the store's lock has it

	unproved atomic.Pointer[error] // why the proof does not take in what others append
}

// openStore opens the journal in the shop's folder, or one in memory. A
// journal that does not agree with its proof is a corrupt fault: nothing is
// written on top of damage.
func openStore(ctx context.Context, o Options) (*store, error) {
	s, err := openStored(ctx, o)
	if err != nil {
		return nil, err
	}
	s.appends = newAppends(s.journal)
	s.journal = s.appends
	return s, nil
}

func openStored(ctx context.Context, o Options) (_ *store, err error) {
	if o.Journal != nil {
		proof, _ := o.Journal.(*tree.Keeper)
		return &store{journal: o.Journal, proof: proof}, nil
	}
	if o.Apart != nil {
		return openApart(ctx, o)
	}
	if o.Dir == "" {
		return &store{journal: memory.New(memory.Options{Shop: o.Shop})}, nil
	}
	if err := notGone(o.Dir, o.Shop); err != nil {
		return nil, err
	}
	s := &store{}
	defer func() {
		if err != nil {
			s.close()
		}
	}()
	if s.reader, err = newLocalReader(); err != nil {
		return nil, err
	}
	s.users = fileMark(BusFile(o.Dir)) // before it is read, so that no change is missed
	listen, err := serverOptions(o, s.reader)
	if err != nil {
		return nil, err
	}
	if s.server, err = natsd.Start(listen); err != nil {
		return nil, err
	}
	if s.conn, err = s.server.Connect("journal"); err != nil {
		return nil, err
	}
	j, err := jet.Open(ctx, s.conn, jet.Options{Shop: o.Shop})
	if err != nil {
		return nil, err
	}
	s.journal = j
	return s, s.prove(ctx, o, ProofFolder(o.Dir))
}

// prove keeps the proof of the journal in a folder from now on.
func (s *store) prove(ctx context.Context, o Options, folder string) error {
	proof, report, f, err := Replay(ctx, s.journal, folder)
	if proof == nil {
		return err
	}
	for _, note := range report.Notes {
		o.Log.Info("journal proof", "note", note)
	}
	if far := report.FarBehind(); far != "" && o.Apart == nil {
		o.Log.Warn("journal proof", "note", far)
	}
	for _, a := range report.Accepted {
		o.Log.Warn("journal proof", "accepted", a.String())
	}
	s.journal, s.proof, s.floor = proof, proof, f
	return err
}

// Replay compares a journal with its proof in a folder and folds the floor
// meanwhile, so that it is read only once. The keeper is nil, and nothing of
// the floor is kept, when the journal is not sound; with a keeper the error is
// that of the fold.
func Replay(ctx context.Context, j journal.Journal, folder string) (*tree.Keeper, tree.Report, *floor.Floor, error) {
	defer eager()()
	f := roomy(ctx, j)
	fold := journal.NewReplay(f)
	proof, report, err := tree.OpenEach(ctx, j, folder, fold.Take)
	if err != nil {
		return nil, report, nil, err
	}
	return proof, report, f, fold.Err()
}

// replay folds a journal without a proof, or one whose proof another process
// keeps.
func replay(ctx context.Context, j journal.Journal) (*floor.Floor, error) {
	defer eager()()
	f := roomy(ctx, j)
	fold := journal.NewReplay(f)
	if err := journal.Events(ctx, j, 1, journal.End, fold.Take); err != nil {
		return nil, err
	}
	return f, fold.Err()
}

// roomy is an empty floor with room for what a journal holds.
func roomy(ctx context.Context, j journal.Journal) *floor.Floor {
	f := floor.New()
	if last, err := j.Last(ctx); err == nil { // who reads will hear of the error
		f.Grow(int(last))
	}
	return f
}

// eager lets the heap grow further than usual between two collections, until
// the function that it returns is called: nearly all that folding makes is
// kept, and collecting would walk over the same living things again and again.
func eager() (end func()) {
	const percent = 300
	was := debug.SetGCPercent(percent)
	if was < 0 || was > percent {
		debug.SetGCPercent(was)
	}
	return func() { debug.SetGCPercent(was) }
}

// serverOptions are those of the server in the shop's folder.
func serverOptions(o Options, r localReader) (s natsd.Options, err error) {
	s = natsd.Options{StoreDir: StoreFolder(o.Dir), Name: o.Shop, Listen: o.Bus != "", MQTT: o.MQTT != "", Logger: o.Log}
	if s.Listen {
		if s.Host, s.Port, err = hostPort(o.Bus); err != nil {
			return s, err
		}
	}
	if s.MQTT {
		if s.MQTTHost, s.MQTTPort, err = hostPort(o.MQTT); err != nil {
			return s, err
		}
	}
	s.Users, err = busUsers(o, r)
	return s, err
}

func hostPort(addr string) (string, int, error) {
	host, port, err := net.SplitHostPort(addr)
	n, bad := strconv.Atoi(port)
	if err != nil || bad != nil || n < 0 || n > 65535 {
		return "", 0, fault.Bad("bus address", fmt.Sprintf("%q", addr), `"host:port", port 0 for any free one`)
	}
	return host, n, nil
}

// close ends what was opened, the other way round.
func (s *store) close() error {
	var err error
	if s.journal != nil {
		err = s.journal.Close()
	}
	if s.conn != nil {
		s.conn.Close()
	}
	if s.server != nil {
		s.server.Stop()
	}
	if s.unlock != nil {
		s.unlock()
	}
	return err
}

// healthy is nil while the journal's proof can be trusted.
func (s *store) healthy() error {
	if s.proof == nil {
		return nil
	}
	if err := s.unproved.Load(); err != nil {
		return *err
	}
	return s.proof.Healthy()
}
