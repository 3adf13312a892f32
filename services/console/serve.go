package console

import (
	"context"
	"errors"
	"log/slog"
	"path/filepath"
	"slices"
	"strings"

	"seamwright/services/access"
	"seamwright/services/app"
	"seamwright/services/fault"
)

// Serve runs some of a shop's services as a process of its own, on a NATS
// server that holds the journal, until the context ends. It waits for that
// server, and the other services may start and stop as they like.
type Serve struct {
	Services      []string // jobs, materials, cures, booth, board
	NATS, Monitor string   // URLs of the server and of its HTTP monitoring; of several with commas
	Replicas      int      // servers that keep the journal together; 0: 1
	Shop          string
	GRPC          string // where the services listen
	Screens       string // where the board's screens are; DefaultScreens if empty
	Advertise     string // how others reach GRPC; empty: as it listens
	Proof         string // folder of the journal's proof; one process keeps it
	People, Dir   string // the people's file, or the folder that has one
	NoPlan        bool   // loads stand where they are told; no booth plan is kept
	Log           *slog.Logger
}

type serveAnswer struct {
	Services []string `json:"services"`
	GRPC     string   `json:"grpc"`
	Screens  string   `json:"screens"`
	Proof    string   `json:"proof"`
}

func (a serveAnswer) Lines() []string {
	out := []string{"serving  " + strings.Join(a.Services, " ")}
	for _, l := range [][2]string{{"gRPC     ", a.GRPC}, {"screens  ", a.Screens}, {"proof    ", a.Proof}} {
		if l[1] != "" {
			out = append(out, l[0]+l[1])
		}
	}
	return append(out, "A process hold, not a certified safety interlock. Stop with Ctrl-C.")
}

// Run serves.
func (q Serve) Run(ctx context.Context, o Out) (err error) {
	if q.NATS == "" {
		return missing("--nats", "the URL of the shop's NATS server, like nats://127.0.0.1:4222")
	}
	if err := checkListen("--grpc", q.GRPC, "--screens", q.Screens, "--advertise", q.Advertise); err != nil {
		return err
	}
	people, err := q.people()
	if err != nil {
		return err
	}
	if q.Screens == "" && slices.Contains(q.Services, app.Board) {
		q.Screens = DefaultScreens
	}
	if q.Proof != "" {
		if q.Proof, err = filepath.Abs(q.Proof); err != nil {
			return fault.Bad("--proof", show(q.Proof), "a folder; "+reason(err))
		}
	}
	part, err := app.New(app.Options{
		Shop: q.Shop, GRPC: q.GRPC, Screens: q.Screens, People: people, Plan: !q.NoPlan, Log: q.Log,
		Apart: &app.Apart{NATS: q.NATS, Monitor: q.Monitor, Replicas: q.Replicas, Services: q.Services, Proof: q.Proof, Advertise: q.Advertise},
	})
	if err != nil {
		return err
	}
	if q.Monitor == "" {
		q.Log.Warn("nobody looks whether the server syncs before it acknowledges; name its HTTP monitoring", "flag", "--monitor")
	}
	if q.Proof != "" {
		defer func() { err = errors.Join(err, handBack(q.Proof)) }()
	}
	if err := part.Start(ctx); err != nil {
		if ctx.Err() != nil {
			return nil // stopped while it waited
		}
		return here(err, "", q.NATS, q.Proof)
	}
	defer func() { err = errors.Join(err, part.Stop()) }()
	a := serveAnswer{Services: q.Services, GRPC: part.Addr().GRPC, Proof: q.Proof}
	if s := part.Addr().Screens; s != "" {
		a.Screens = "http://" + s + "/"
	}
	if q.Proof != "" {
		if err := handBack(q.Proof); err != nil { // root may be killed
			return err
		}
	}
	if err := o.put(a); err != nil {
		return err
	}
	<-ctx.Done()
	return nil
}

// people are those of the file. Without one there are none, and nobody can
// sign as a foreman.
func (q Serve) people() (*access.Shop, error) {
	file := q.People
	switch {
	case file != "" && q.Dir != "":
		return nil, fault.Bad("--dir", show(q.Dir), "not beside --people; one of them says who works here")
	case q.Dir != "":
		file = app.PeopleFile(q.Dir)
	case file == "":
		q.Log.Warn("no list of people: nobody can sign as a foreman", "flag", "--people")
		return access.Parse("people.yaml", nil)
	}
	people, err := access.Load(file)
	if err == nil && !people.CanSign() {
		q.Log.Warn(nobodySigns, "file", file)
	}
	return people, err
}
