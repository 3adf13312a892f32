package cure

// Try tells what would be wrong with a reading, without taking it in: the
// findings that [Course.Insert] would return. A reading later than all before
// costs the same however long the history is.
func (c *Course) Try(r Reading) ([]Finding, error) {
	if err := r.Validate(); err != nil {
		return nil, err
	}
	i, found := c.find(r.At)
	if found {
		return nil, repeated(r.At)
	}
	if i < len(c.marks) {
		return c.Clone().Insert(r)
	}
	prev := c.last()
	m := c.zone.placed(prev, markOf(r))
	return m.findings(prev, c.zone), nil
}
