//go:build !unsafe_nosync

package natsd

import (
	"seamwright/services/fault"
)

// syncAlways makes the server see each write on disk before it acknowledges
// it. Only the build that the power cut test must see failing has it off.
const syncAlways = true

// checkSync asks the running server for its own settings, and refuses one that
// acknowledges before it writes.
func (s *Server) checkSync() error {
	v, err := s.srv.Varz(nil)
	if err != nil {
		return fault.Wrap(err, fault.Unavailable, "server-not-ready", "start again")
	}
	if v.JetStream.Config == nil || !v.JetStream.Config.SyncAlways {
		return fault.New(fault.Unavailable, "sync-off",
			"the journal's server acknowledges before it writes to disk", "this program version must not be used")
	}
	return nil
}
