package cures

// Watched is every clock that a keeper watches, as the value that it holds: a
// clock that is looked at anew is another value.
func (k *Keeper) Watched() map[string]any {
	out := map[string]any{}
	for key, w := range k.watched {
		out[key] = w
	}
	return out
}

// Alone lists the clocks that are judged one by one.
func (k *Keeper) Alone() []string { return sortedKeys(k.alone) }
