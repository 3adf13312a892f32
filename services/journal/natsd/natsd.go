// Package natsd runs the shop's NATS server inside the process, with a
// JetStream store in which an acknowledgement means on disk.
//
// The server itself would let two processes open one store folder, and both
// would acknowledge; a lock file in the folder prevents it. It would
// also start with a port that another program holds and merely never become
// ready; the port is tried first. And it would by default acknowledge up to
// two minutes before it writes to disk; here that is no option, and Start
// asks the running server whether it obeys.
//
// This process connects through memory, as a user that nobody else can be.
// Whoever comes over TCP or MQTT must be one of the server's [User]s, and may
// do what stands there; without users nobody gets in.
package natsd

import (
	"crypto/rand"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nats.go"

	"seamwright/services/fault"
)

// Options of the server.
type Options struct {
	StoreDir string // folder of the store; made if it is not there
	Name     string // the server's name in logs and to clients; "seamwright" if empty

	// Listen opens a TCP port at Host and Port for the shop's other
	// processes; without it only this process can connect. Port 0 takes
	// any free one; Host "" is the loopback address.
	Listen bool
	Host   string
	Port   int

	// MQTT opens a TCP port for clients of MQTT 3.1.1 in the same way.
	MQTT     bool
	MQTTHost string
	MQTTPort int

	// Users are those who may come from outside; none: nobody.
	Users []User

	MaxStore int64         // bytes on disk; 0: what the server finds fit for the disk
	Ready    time.Duration // how long a start may take; 0: 30 s
	ShutFor  time.Duration // how long a user who sends too much is shut out; 0: a minute
	Logger   *slog.Logger  // nil: slog.Default
}

// MaxMemory is how many bytes of memory streams the server may hold. The
// journal has none; only the state of its readers lives there, and what MQTT
// sessions leave behind.
const MaxMemory = 64 << 20

// Server is a running server and the lock on its folder.
type Server struct {
	opt    Options
	inside string // password of this process, made at this start
	hash   string // its hash
	srv    *server.Server
	lock   *os.File
	log    *slog.Logger
	flood  flood
}

// Start locks the folder and starts the server, ready for connections. Its
// faults are unavailable: "store-in-use", "port-taken", "server-not-ready".
func Start(o Options) (*Server, error) {
	o = o.withDefaults()
	if o.StoreDir == "" {
		return nil, fault.Bad("store folder", `""`, "name the folder that holds the journal")
	}
	if err := os.MkdirAll(o.StoreDir, 0o700); err != nil {
		return nil, fault.Wrap(err, fault.Unavailable, "store-folder", "make the folder writable for this user")
	}
	lock, err := lockFolder(o.StoreDir)
	if err != nil {
		return nil, err
	}
	s := &Server{opt: o, inside: rand.Text(), lock: lock, log: o.Logger}
	if err = s.start(); err != nil {
		s.Stop()
		return nil, err
	}
	return s, nil
}

func (o Options) withDefaults() Options {
	if o.Name == "" {
		o.Name = "seamwright"
	}
	if o.Host == "" {
		o.Host = "127.0.0.1"
	}
	if o.MQTTHost == "" {
		o.MQTTHost = "127.0.0.1"
	}
	if o.Ready == 0 {
		o.Ready = 30 * time.Second
	}
	if o.ShutFor == 0 {
		o.ShutFor = shutFor
	}
	if o.Logger == nil {
		o.Logger = slog.Default()
	}
	return o
}

func (s *Server) start() error {
	o := s.opt
	var err error
	if s.hash, err = Hash(s.inside); err != nil {
		return err
	}
	if o.Listen {
		if err := tryPort(o.Host, o.Port); err != nil {
			return err
		}
	}
	if o.MQTT {
		if err := tryPort(o.MQTTHost, o.MQTTPort); err != nil {
			return err
		}
	}
	opts, err := s.options(o.Users)
	if err != nil {
		return err
	}
	srv, err := server.NewServer(opts)
	if err != nil {
		return fault.Wrap(err, fault.Unavailable, "server-not-ready", "look at the options in the message")
	}
	s.srv = srv
	srv.SetLoggerV2(&logger{log: s.log.With("part", "nats-server")}, false, false, false)
	srv.Start()
	if !srv.ReadyForConnections(o.Ready) {
		return fault.New(fault.Unavailable, "server-not-ready",
			fmt.Sprintf("the journal's server in %s was not ready within %s", o.StoreDir, o.Ready),
			"look for the reason in the log just above, free the disk or the port, start again")
	}
	if err := s.checkSync(); err != nil {
		return err
	}
	s.watchFloods()
	if !o.MQTT {
		return nil
	}
	return s.boundMQTT()
}

// options are the server's, with those users. They come out the same each
// time, so that the running server can be given others.
func (s *Server) options(users []User) (*server.Options, error) {
	o := s.opt
	opts := &server.Options{
		ServerName: o.Name, DontListen: !o.Listen,
		JetStream: true, StoreDir: o.StoreDir, SyncAlways: syncAlways,
		JetStreamMaxMemory: MaxMemory, JetStreamMaxStore: o.MaxStore,
		NoSigs: true, DisableJetStreamBanner: true,
	}
	if o.Listen {
		opts.Host, opts.Port = o.Host, port(o.Port)
	}
	if o.MQTT {
		if err := opts.ProcessConfigString(mqttHabits); err != nil {
			return nil, fault.Wrap(err, fault.Internal, "mqtt-options", "")
		}
		opts.MQTT.Host, opts.MQTT.Port = o.MQTTHost, port(o.MQTTPort)
	}
	var err error
	opts.Users, err = s.users(users)
	return opts, err
}

// port is what the server calls a port: any free one is another number there.
func port(n int) int {
	if n == 0 {
		return server.RANDOM_PORT
	}
	return n
}

// Connect makes a connection inside the process. It comes back by itself;
// a request while it is away fails at once and is never sent later.
func (s *Server) Connect(name string) (*nats.Conn, error) {
	return connect("", name, s.log, nats.InProcessServer(s.srv), nats.UserInfo(insideUser, s.inside))
}

// Dial makes a connection over TCP, for another process of the shop, with
// the same habits as Connect.
func Dial(url, name string, log *slog.Logger, opts ...nats.Option) (*nats.Conn, error) {
	if log == nil {
		log = slog.Default()
	}
	return connect(url, name, log, opts...)
}

func connect(url, name string, log *slog.Logger, opts ...nats.Option) (*nats.Conn, error) {
	nc, err := nats.Connect(url, append([]nats.Option{
		nats.Name(name), nats.MaxReconnects(-1), nats.ReconnectWait(250 * time.Millisecond),
		nats.ReconnectBufSize(-1),
		nats.ErrorHandler(func(_ *nats.Conn, sub *nats.Subscription, err error) {
			subject := ""
			if sub != nil {
				subject = sub.Subject
			}
			log.Warn("bus connection", "name", name, "subject", subject, "err", err)
		}),
	}, opts...)...)
	if err := Denied(err); err != nil {
		return nil, err
	}
	if err != nil {
		return nil, fault.Wrap(err, fault.Unavailable, "bus-unreachable", "check that the shop's journal server runs and try again")
	}
	return nc, nil
}

// Denied is the denied fault "bus-refused" when a connection's error says that
// the bus does not know the user or the password; else nil.
func Denied(err error) error {
	if errors.Is(err, nats.ErrAuthorization) || errors.Is(err, nats.ErrAuthExpired) {
		return fault.Wrap(err, fault.Denied, "bus-refused", "give the user and password that the shop's bus knows")
	}
	return nil
}

// URL is where other processes connect, "" when the server does not listen.
func (s *Server) URL() string {
	if s.srv.Addr() == nil {
		return ""
	}
	return s.srv.ClientURL()
}

// MQTTAddr is where MQTT clients connect, "host:port"; "" when the server does
// not take them.
func (s *Server) MQTTAddr() string {
	v, err := s.srv.Varz(nil)
	if err != nil || !s.opt.MQTT {
		return ""
	}
	return net.JoinHostPort(v.MQTT.Host, strconv.Itoa(v.MQTT.Port))
}

// Varz gives the running server's own account of itself.
func (s *Server) Varz() (*server.Varz, error) { return s.srv.Varz(nil) }

// Folder is where the server keeps a stream of its one account.
func Folder(storeDir, stream string) string {
	return filepath.Join(storeDir, "jetstream", server.DEFAULT_GLOBAL_ACCOUNT, "streams", stream)
}

// Stop ends the server, waits until nothing of it runs, and frees the
// folder. Close the connections first. It may be called twice.
func (s *Server) Stop() {
	if s.flood.stop != nil {
		close(s.flood.stop)
		s.flood.done.Wait()
		s.flood.stop = nil
	}
	if s.srv != nil {
		s.srv.Shutdown()
		s.srv.WaitForShutdown()
		s.srv = nil
	}
	if s.lock != nil {
		unlockFolder(s.lock)
		s.lock = nil
	}
}
