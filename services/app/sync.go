package app

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"time"

	"seamwright/services/fault"
)

// monitorWithin is how long the server's monitoring may take to answer.
const monitorWithin = 5 * time.Second

// checkSync asks the monitoring of a server of its own whether an
// acknowledgement means on disk: the journal's clients cannot see it. Without
// an address nobody asks.
func checkSync(ctx context.Context, monitor string) error {
	if monitor == "" {
		return nil
	}
	ctx, cancel := context.WithTimeout(ctx, monitorWithin)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, strings.TrimSuffix(monitor, "/")+"/varz", nil)
	if err != nil {
		return fault.Bad("monitoring address", fmt.Sprintf("%q", monitor), "a URL like http://127.0.0.1:8222")
	}
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
	r, err := client.Do(req)
	if err != nil {
		return fault.Wrap(err, fault.Unavailable, "monitoring-unreachable", "check that the server runs with HTTP monitoring at that address")
	}
	defer r.Body.Close()
	var v struct {
		JetStream struct {
			Config *struct {
				Sync bool `json:"sync_always"`
			} `json:"config"`
		} `json:"jetstream"`
	}
	if err := json.NewDecoder(r.Body).Decode(&v); err != nil || r.StatusCode != http.StatusOK {
		return fault.New(fault.Unavailable, "monitoring-unreachable", fmt.Sprintf("%s/varz answers with status %d and no account of the server", monitor, r.StatusCode),
			"check that the address is that of the server's HTTP monitoring")
	}
	switch {
	case v.JetStream.Config == nil:
		return fault.New(fault.Unavailable, "jetstream-off", "the shop's server has no JetStream, where the journal must be",
			"turn it on in the server's configuration, as deploy/nats.conf does")
	case !v.JetStream.Config.Sync:
		return fault.New(fault.Unavailable, "sync-off", "the shop's server acknowledges before it writes to disk: a power cut would take facts that were acknowledged",
			"set sync_interval: always in its jetstream block, as deploy/nats.conf does")
	}
	return nil
}
