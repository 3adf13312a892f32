package booth

// Times of several booth services, to be looked at beside each other.
const (
	Silent       = silent
	Deaf         = deaf
	Recent       = recent
	RevokeWithin = revokeWithin
)
