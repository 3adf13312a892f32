package cures

// Watched is every clock that a keeper watches, as the value that it holds: a
// clock that is looked at anew is another value.
func (k *Keeper) Watched() map[string]any {
	out := map[string]any{}
	for _, w := range k.slots {
		if w == nil {
			continue
		}
		if r, ok := w.find(k.desk.Floor, k.desk.Clock.Now()); ok {
			out[keyOf(r.ID)] = w
		}
	}
	return out
}

// Alone lists the clocks that are judged one by one.
func (k *Keeper) Alone() []string {
	var out []string
	for _, n := range sortedKeys(k.alone) {
		out = append(out, keyOf(k.alone[n].apart.ID))
	}
	return out
}

// Numbers is how many numbers a keeper has ever given at a time.
func (k *Keeper) Numbers() int { return len(k.slots) }
