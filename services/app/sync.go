package app

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/nats-io/nats.go"

	"seamwright/services/fault"
)

// monitorWithin is how long the server's monitoring may take to answer.
const monitorWithin = 5 * time.Second

// checkSync asks the monitoring of a server of its own whether an
// acknowledgement means on disk: the journal's clients cannot see it. Without
// an address nobody asks. It gives the identity of the server that answered.
func checkSync(ctx context.Context, monitor string) (id string, err error) {
	if monitor == "" {
		return "", nil
	}
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
func checkSame(ctx context.Context, nc *nats.Conn, monitor, id string) (err error) {
	for again := false; monitor != ""; again = true {
		switch here := nc.ConnectedServerId(); {
		case here == "":
			return fault.New(fault.Unavailable, "bus-away", "the shop's server went away while its monitoring was asked", "see that it runs")
		case id == here:
			return nil
		case again:
			return fault.New(fault.Unavailable, monitorElsewhere,
				fmt.Sprintf("the monitoring at %s is that of another server (%s) than the one that holds the journal (%s): it cannot say whether that one syncs", bareHTTP(monitor), brief(id), brief(here)),
				"name the HTTP monitoring of the server of --nats with --monitor")
		}
		if id, err = checkSync(ctx, monitor); err != nil {
			return err
		}
	}
	return nil
}

// monitorElsewhere is the reason when --monitor and --nats are two servers.
const monitorElsewhere = "monitoring-elsewhere"

// brief is a server's identity, of which the first characters tell it from
// others.
func brief(id string) string {
	if id == "" {
		return "it names no identity"
	}
	return id[:min(12, len(id))]
}

// bareHTTP is an address without user and password.
func bareHTTP(monitor string) string {
	if u, err := url.Parse(monitor); err == nil && u.Host != "" {
		return u.Scheme + "://" + u.Host
	}
	return "--monitor"
}
