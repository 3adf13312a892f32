package journal

// Listen calls fn for each event that is folded from now on, one after the
// other, while the fold stands at exactly that event: who must not miss what
// one event took away and the next gave back looks at both. fn is called
// under the fold's lock: it must not block, change the fold or call the
// Writer.
func (w *Writer) Listen(fn func(seq uint64)) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.listeners = append(w.listeners, fn)
}

// told calls the listeners. The caller holds the lock.
func (w *Writer) told(seq uint64) {
	for _, fn := range w.listeners {
		fn(seq)
	}
}
