package console

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"seamwright/services/access"
	"seamwright/services/app"
	"seamwright/services/fault"
	"seamwright/services/floor"
)

// Up opens a real shop in a folder and keeps it open until the context ends.
type Up struct {
	Dir                      string
	Shop                     string
	GRPC, Screens, Bus, MQTT string // addresses
	NoPlan                   bool   // loads stand where they are told; no booth plan is kept
	Log                      *slog.Logger

	minFree uint64 // bytes, for tests; 0: what a shop wants
}

type upAnswer struct {
	Dir     string `json:"dir"`
	GRPC    string `json:"grpc"`
	Screens string `json:"screens"`
	Bus     string `json:"bus"`
	MQTT    string `json:"mqtt"`
	Shop    string `json:"shop"`             // its name in the journal and on the bus
	Reader  string `json:"reader,omitempty"` // of the gates: URL for whoever may read the shop's folder
	Foreman string `json:"foreman"`          // made at the first start; empty later
	PIN     string `json:"pin"`              // told this once
}

func (a upAnswer) Lines() []string {
	out := []string{"shop     " + a.Dir}
	for _, l := range [][2]string{{"gRPC     ", a.GRPC}, {"screens  ", a.Screens}, {"bus      ", a.Bus}, {"MQTT     ", a.MQTT}} {
		if l[1] != "" {
			out = append(out, l[0]+l[1])
		}
	}
	if a.Foreman != "" {
		out = append(out,
			"people   "+app.PeopleFile(a.Dir)+" is new: "+a.Foreman+" is foreman, PIN "+a.PIN+" (shown this once)",
			"         add people with: seamwright person --dir "+a.Dir+" --name NAME --role ROLE")
	}
	return append(out, "A process hold, not a certified safety interlock. Stop with Ctrl-C.")
}

// firstForeman is the name under which a new shop's foreman begins.
const firstForeman = "Foreman"

// Run keeps the shop open.
func (q Up) Run(ctx context.Context, o Out) (err error) {
	if q.Dir == "" {
		return missing("--dir", "the shop's folder; it is made if it is not there")
	}
	if q.Dir, err = filepath.Abs(q.Dir); err != nil {
		return fault.Bad("--dir", show(q.Dir), "a folder; "+reason(err))
	}
	if err := checkListen("--grpc", q.GRPC, "--screens", q.Screens, "--bus", q.Bus, "--mqtt", q.MQTT); err != nil {
		return err
	}
	a, said := upAnswer{Dir: q.Dir}, false
	defer func() { err = q.full(err) }()
	if err := q.furnish(&a); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, handBack(q.Dir)) }() // root may have opened it by hand, to look
	if a.Foreman != "" {
		made, err := os.ReadFile(app.PeopleFile(q.Dir))
		if err != nil {
			return fault.Wrap(err, fault.Unavailable, "people-file", "make the shop's folder readable for this user")
		}
		defer func() {
			if !said {
				q.unmake(made)
			}
		}()
	}
	shop, err := q.open(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, shop.Stop()) }()
	q.warn(a, shop.Desk().Writer.Seq())
	at := shop.Addr()
	a.GRPC, a.Bus, a.MQTT, a.Shop, a.Reader = at.GRPC, at.Bus, at.MQTT, shop.Name(), at.Reader
	if at.Screens != "" {
		a.Screens = "http://" + at.Screens + "/"
	}
	if err := announce(a); err != nil {
		return err
	}
	defer os.Remove(runningFile(q.Dir))
	if err := handBack(q.Dir); err != nil { // root may be killed
		return err
	}
	told := a
	told.Reader = ""
	if err := o.put(told); err != nil {
		return err
	}
	said = true
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-shop.Again():
		}
		next, err := q.again(ctx, shop)
		if err != nil {
			return err
		}
		shop = next
		a.Reader = shop.Addr().Reader // made at each start
		if err := announce(a); err != nil {
			return err
		}
	}
}

// open starts the shop.
func (q Up) open(ctx context.Context) (*app.App, error) {
	shop, err := app.New(app.Options{
		Dir: q.Dir, Shop: q.Shop, GRPC: q.GRPC, Screens: q.Screens, Bus: q.Bus, MQTT: q.MQTT, Plan: !q.NoPlan, Log: q.Log,
		MinFree: q.minFree,
	})
	if err != nil {
		return nil, err
	}
	if err := shop.Start(ctx); err != nil {
		return nil, here(err, q.Dir, "", "")
	}
	return shop, nil
}

// again starts the shop a second time, at the addresses that it has: screens
// and terminals find it there, and every permit is asked for anew.
func (q Up) again(ctx context.Context, shop *app.App) (*app.App, error) {
	q.Log.Warn("the disk has room again but the journal's store stays shut: the shop is started again")
	at := shop.Addr()
	q.GRPC, q.Screens, q.MQTT = at.GRPC, at.Screens, at.MQTT
	if _, host, ok := strings.Cut(at.Bus, "://"); ok && q.Bus != "" {
		q.Bus = host
	}
	if err := shop.Stop(); err != nil { // a store that is shut may complain of it once more
		q.Log.Warn("the shop did not end as it should", "err", err)
	}
	return q.open(ctx)
}

// furnish makes the folder and, at the first start, a foreman with a PIN of
// their own.
func (q Up) furnish(a *upAnswer) error {
	if err := os.MkdirAll(q.Dir, 0o700); err != nil {
		return fault.Bad("--dir", show(q.Dir), "a folder that can be made; "+reason(err))
	}
	if _, err := os.Stat(app.PeopleFile(q.Dir)); !errors.Is(err, os.ErrNotExist) {
		return nil
	}
	a.Foreman, a.PIN = firstForeman, access.RandomPIN()
	_, err := access.Enrol(app.PeopleFile(q.Dir), access.Person{Name: firstForeman, Role: floor.Foreman}, a.PIN)
	return err
}

// unmake takes back the list of people that this run made, if it is still as it
// was made: nobody was told the PIN in it, and the next start makes a new one.
func (q Up) unmake(made []byte) {
	file := app.PeopleFile(q.Dir)
	if now, err := os.ReadFile(file); err != nil || !bytes.Equal(now, made) {
		return
	}
	if err := os.Remove(file); err != nil {
		q.Log.Warn("the new list of people holds a PIN that nobody was told: remove it, so that the next start makes another", "file", file, "err", err)
	}
}

// full says that the disk is full when that is what is behind an error,
// whatever else it advises.
func (q Up) full(err error) error {
	if err == nil {
		return nil
	}
	text := err.Error() // the server hands on no more of an error
	if !errors.Is(err, syscall.ENOSPC) && !errors.Is(err, syscall.EDQUOT) && !strings.Contains(text, syscall.ENOSPC.Error()) && !strings.Contains(text, "insufficient storage") {
		return err
	}
	return fault.Because(err, fault.Unavailable, "disk-full", "the disk of "+show(q.Dir)+" is full: nothing can be written there", "free some space on it and start again")
}

// warn says when the list of people cannot be what the shop had before, or
// has nobody who can sign as a foreman.
func (q Up) warn(a upAnswer, events uint64) {
	file := app.PeopleFile(q.Dir)
	if a.Foreman != "" && events > 0 {
		q.Log.Warn("the list of people was gone although the journal holds events: a new one was made, and nobody but its new foreman is in it; stop the shop and put the list back from a copy if that is not meant",
			"file", file, "events", events)
	}
	if people, err := access.Load(file); err == nil && !people.CanSign() { // one that cannot be read has stopped the start
		q.Log.Warn(nobodySigns, "file", file)
	}
}

// nobodySigns is what a list without a foreman means.
const nobodySigns = "nobody in the list of people is a foreman with a PIN: no gate can be overridden and no stop answered; put one in with seamwright person --role foreman, and start again"

// announce writes how to reach the shop into its folder, without the PIN.
func announce(a upAnswer) error {
	a.Foreman, a.PIN = "", ""
	b, err := json.Marshal(a)
	if err == nil {
		tmp := runningFile(a.Dir) + ".new"
		if err = os.WriteFile(tmp, b, 0o600); err == nil {
			err = os.Rename(tmp, runningFile(a.Dir))
		}
	}
	if err != nil {
		return fault.Wrap(err, fault.Unavailable, "running-file", "make the shop's folder writable for this user")
	}
	return nil
}
