package access

// MatchesStored checks any text against a stored hash.
func MatchesStored(stored, text string) bool {
	h, err := parseHash(stored)
	return err == nil && h.matches(text)
}

// FillSlots takes all places at the hash until the returned function is called.
func FillSlots(s *Shop) (release func()) {
	for range cap(s.slots) {
		s.slots <- struct{}{}
	}
	return func() {
		for range cap(s.slots) {
			<-s.slots
		}
	}
}
