package app

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/nats-io/nats.go"

	"seamwright/services/fault"
)

// monitorWithin is how long the server's monitoring may take to answer.
const monitorWithin = 5 * time.Second

// synced are the servers of which monitoring says that an acknowledgement
// means on disk.
type synced struct {
	ids    []string // of those that answered
	silent error    // of one that did not, where another one did; nil: all did
}

// checkSync asks the monitoring of the servers, one or several with commas
// between them, whether an acknowledgement means on disk: the journal's clients
// cannot see it. Without an address nobody asks. Of several some may be away,
// as long as one answers.
func checkSync(ctx context.Context, monitors string) (s synced, err error) {
	if monitors == "" {
		return s, nil
	}
	for one := range strings.SplitSeq(monitors, ",") {
		id, err := checkOne(ctx, strings.TrimSpace(one))
		switch {
		case err == nil:
			s.ids = append(s.ids, id)
		case fault.Is(err, "monitoring-unreachable"):
			s.silent = err
		default:
			return s, err
		}
	}
	if len(s.ids) == 0 {
		return s, s.silent
	}
	return s, nil
}

// checkOne asks the monitoring of one server and gives the identity of the one
// that answered.
func checkOne(ctx context.Context, monitor string) (id string, err error) {
	ctx, cancel := context.WithTimeout(ctx, monitorWithin)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, strings.TrimSuffix(monitor, "/")+"/varz", nil)
	if err != nil {
		return "", fault.Bad("monitoring address", fmt.Sprintf("%q", monitor), "a URL like http://127.0.0.1:8222")
	}
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
	r, err := client.Do(req)
	if err != nil {
		return "", fault.Wrap(err, fault.Unavailable, "monitoring-unreachable", "check that the server runs with HTTP monitoring at that address")
	}
	defer r.Body.Close()
	var v struct {
		ID        string `json:"server_id"`
		JetStream struct {
			Config *struct {
				Sync bool `json:"sync_always"`
			} `json:"config"`
		} `json:"jetstream"`
	}
	if err := json.NewDecoder(r.Body).Decode(&v); err != nil || r.StatusCode != http.StatusOK {
		return "", fault.New(fault.Unavailable, "monitoring-unreachable", fmt.Sprintf("%s/varz answers with status %d and no account of the server", monitor, r.StatusCode),
			"check that the address is that of the server's HTTP monitoring")
	}
	switch {
	case v.JetStream.Config == nil:
		return "", fault.New(fault.Unavailable, "jetstream-off", "the shop's server has no JetStream, where the journal must be",
			"turn it on in the server's configuration, as deploy/nats.conf does")
	case !v.JetStream.Config.Sync:
		return "", fault.New(fault.Unavailable, "sync-off", "the shop's server acknowledges before it writes to disk: a power cut would take facts that were acknowledged",
			"set sync_interval: always in its jetstream block, as deploy/nats.conf does")
	}
	return v.ID, nil
}

// checkSame sees that the monitoring that was asked is that of the server on
// which the journal is: another one's word is worth nothing. A server that was
// started again between the two is asked once more.
func checkSame(ctx context.Context, nc *nats.Conn, monitors string, s synced) (err error) {
	for again := false; monitors != ""; again = true {
		switch here := nc.ConnectedServerId(); {
		case here == "":
			return fault.New(fault.Unavailable, "bus-away", "the shop's server went away while its monitoring was asked", "see that it runs")
		case slices.Contains(s.ids, here):
			return nil
		case again && s.silent != nil: // it may be the one that does not answer
			return s.silent
		case again:
			return fault.New(fault.Unavailable, monitorElsewhere,
				fmt.Sprintf("the monitoring at %s is that of another server (%s) than the one that holds the journal (%s): it cannot say whether that one syncs", bareHTTP(monitors), brief(s.ids), brief([]string{here})),
				"name the HTTP monitoring of the server of --nats with --monitor, of several servers each, with commas between them")
		}
		if s, err = checkSync(ctx, monitors); err != nil {
			return err
		}
	}
	return nil
}

// monitorElsewhere is the reason when --monitor and --nats are two servers.
const monitorElsewhere = "monitoring-elsewhere"

// brief are servers' identities, of which the first characters tell them from
// others.
func brief(ids []string) string {
	var out []string
	for _, id := range ids {
		if id == "" {
			id = "it names no identity"
		}
		out = append(out, id[:min(12, len(id))])
	}
	return strings.Join(out, ", ")
}

// bareHTTP are addresses without user and password.
func bareHTTP(monitors string) string {
	if out := bare(monitors); out != "" {
		return out
	}
	return "--monitor"
}
