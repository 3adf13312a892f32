package console

import (
	"context"
	"time"

	"seamwright/services/app"
	"seamwright/services/bus"
	"seamwright/services/fault"
)

// lookAgain is how often a watched shop's folder is looked at: a shop that was
// started again has another password, and maybe another port.
const lookAgain = 250 * time.Millisecond

// read reads the gate at a post. Whoever watches a shop by its folder goes on
// over its restarts; until the new bus is heard the gate holds.
func (q Gate) read(ctx context.Context, post app.Gatepost, show func(bus.Verdict, int) bool) error {
	if !q.Watch || q.Dir == "" {
		return post.Read(ctx, show)
	}
	for ended := false; !ended; {
		one, move := context.WithCancel(ctx)
		next := make(chan app.Gatepost, 1)
		go func() {
			defer close(next)
			if p, ok := q.moved(one, post); ok {
				next <- p
				move()
			}
		}()
		err := post.Read(one, func(v bus.Verdict, heard int) bool {
			ended = !show(v, heard)
			return !ended
		})
		refused := fault.Is(err, "bus-refused")
		if refused && ctx.Err() == nil { // as good as silent; the folder says soon where it is now
			err = nil
			ended = !show(bus.NewJudge(q.Booth).At(0), 0)
		}
		if err != nil || ended || !refused && one.Err() == nil {
			move()
		}
		p, ok := <-next
		move()
		if err != nil || !ok {
			return err
		}
		post = p
	}
	return nil
}

// moved waits until the shop's folder names another bus than a post's.
func (q Gate) moved(ctx context.Context, post app.Gatepost) (app.Gatepost, bool) {
	each := time.NewTicker(lookAgain)
	defer each.Stop()
	for {
		select {
		case <-each.C:
		case <-ctx.Done():
			return post, false
		}
		// A shop that is stopped, or starts without a bus, has no post.
		if p, err := q.post(); err == nil && (p.URL != post.URL || p.Shop != post.Shop) {
			return p, true
		}
	}
}
