//go:build unsafe_nosync

package natsd

// syncAlways is off in this build, which exists so that the power cut test can
// be seen to find what is lost then. No shop may run it.
const syncAlways = false

// checkSync has nothing to refuse in this build; it says so, loudly.
func (s *Server) checkSync() error {
	s.log.Error("THIS BUILD MUST NOT BE USED: it acknowledges facts that are not on disk, and a power cut loses them",
		"built with", "unsafe_nosync")
	return nil
}
