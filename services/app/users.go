package app

import (
	"crypto/rand"
	"os"
	"path/filepath"
	"strings"
	"time"

	"seamwright/services/access"
	"seamwright/services/bus"
	"seamwright/services/fault"
	"seamwright/services/journal/natsd"
)

// BusFile is where a shop's folder keeps the users of its bus.
func BusFile(dir string) string { return filepath.Join(dir, "bus.yaml") }

// lookEvery is how often the users' file is looked at for a change.
const lookEvery = 2 * time.Second

// busUsers are those who may come to the bus of a shop's folder from outside.
// A folder without a list has nobody, and nobody gets in.
func busUsers(o Options, r localReader) ([]natsd.User, error) {
	list, err := access.LoadBus(BusFile(o.Dir))
	if err != nil && fault.KindOf(err) != fault.NotFound {
		return nil, err
	}
	if len(list) == 0 && o.onBus() {
		o.Log.Warn("the bus has no users: nobody gets in from outside", "file", BusFile(o.Dir), "add one with", "seamwright bus-user")
	}
	out := []natsd.User{r.user(o.Shop)}
	for _, u := range list {
		n, err := busUser(o.Shop, u)
		if err != nil {
			return nil, err
		}
		out = append(out, n)
	}
	return out, nil
}

// probeAtOnce is how many messages of a probe the server takes in half a
// second: twice what is taken of one that was away, a thousandth of what keeps
// the server from everything else.
const probeAtOnce = 2000

// busUser says what a user may do: a probe publishes its own readings, a
// reader hears the gates, another process of the shop does what a shop's
// processes do, short of what would take records from the journal.
func busUser(shop string, u access.BusUser) (natsd.User, error) {
	out := natsd.User{Name: u.User(), Hash: u.Hash}
	switch u.Kind {
	case access.BusProbe:
		subject, err := bus.Probe{Shop: shop, Zone: u.Zone, Probe: u.Probe}.Subject()
		out.MQTT, out.Publish, out.AtOnce = true, []string{subject}, probeAtOnce
		return out, err
	case access.BusReader:
		out.NATS, out.MQTT, out.Subscribe, out.AtOnce = true, true, []string{"gate." + shop + ".>"}, probeAtOnce
		return out, nil
	case access.BusService:
		out.NATS = true
		for _, first := range []string{"shop.", "gate.", "alive.", "heard.", "probe."} {
			out.Publish = append(out.Publish, first+shop+".>")
			out.Subscribe = append(out.Subscribe, first+shop+".>")
		}
		out.Publish = append(out.Publish, "$JS.API.>", "$JS.ACK.>", "$JS.FC.>", "_INBOX.>")
		out.Subscribe = append(out.Subscribe, "_INBOX.>")
		for _, api := range []string{"STREAM.DELETE.>", "STREAM.PURGE.>", "STREAM.UPDATE.>", "STREAM.RESTORE.>", "STREAM.MSG.DELETE.>", "ACCOUNT.PURGE.>"} {
			out.Withheld = append(out.Withheld, "$JS.API."+api)
		}
		return out, nil
	}
	return out, fault.Bad("bus user", u.Kind, "a kind that this program knows")
}

// localReader is a reader of the gates with a password made at each start. It
// goes into the shop's folder, so that whoever may read that may read the
// gates, and nobody has to be enrolled for it.
type localReader struct{ password, hash string }

// localName is no name that the users' file can give: those have a dot.
const localName = "local"

func newLocalReader() (localReader, error) {
	r := localReader{password: rand.Text()}
	hash, err := natsd.Hash(r.password)
	r.hash = hash
	return r, err
}

func (r localReader) user(shop string) natsd.User {
	return natsd.User{Name: localName, Hash: r.hash, NATS: true, Subscribe: []string{"gate." + shop + ".>"}}
}

// url is a bus's with the reader's name in it; empty when there is none.
func (r localReader) url(at string) string {
	if host, ok := strings.CutPrefix(at, "nats://"); ok {
		return "nats://" + localName + ":" + r.password + "@" + host
	}
	return ""
}

// watchUsers takes over the users' file whenever it changes: who is new may
// come, who is gone is put out. A file that cannot be read changes nothing.
func (a *App) watchUsers() {
	seen := a.store.users
	each := time.NewTicker(lookEvery)
	defer each.Stop()
	for {
		select {
		case <-each.C:
		case <-a.ctx.Done():
			return
		}
		now := fileMark(BusFile(a.opt.Dir))
		if now == seen {
			continue
		}
		seen = now
		users, err := busUsers(a.opt, a.store.reader)
		if err == nil {
			err = a.store.server.SetUsers(users)
		}
		if err != nil {
			a.opt.Log.Error("the bus keeps its users as they were", "file", BusFile(a.opt.Dir), "err", err)
			continue
		}
		a.opt.Log.Info("the bus has other users", "file", BusFile(a.opt.Dir), "users", len(users)-1)
	}
}

// mark tells one state of a file from another. The file is replaced as a
// whole, so its time and size do.
type mark struct {
	at   time.Time
	size int64
}

func fileMark(path string) mark {
	i, err := os.Stat(path)
	if err != nil {
		return mark{}
	}
	return mark{i.ModTime(), i.Size()}
}
