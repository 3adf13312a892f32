package natsd_test

import (
	"testing"
	"time"

	"seamwright/services/journal/natsd"
)

// A device that runs wild is shut out, on all its connections and for a while,
// whatever it sends; one that sends a backlog at once is not, nor are others.
func TestAFloodIsShutOut(t *testing.T) {
	wild, calm := probe(t, "wild", "probe.demo.bay-1.p1"), probe(t, "calm", "probe.demo.bay-1.p2")
	wild.AtOnce, calm.AtOnce = 200, 500
	s := start(t, natsd.Options{StoreDir: t.TempDir(), MQTT: true, Users: []natsd.User{wild, calm}, ShutFor: 10 * time.Second})
	heard := listen(t, s, "probe.demo.bay-1.p2")
	backlog := mustDevice(t, s, "c1", "calm")
	for range 400 {
		backlog.Publish("probe/demo/bay-1/p2", 0, false, "21.5")
	}
	for i := range 400 {
		if _, err := heard.NextMsg(20 * time.Second); err != nil {
			t.Fatalf("message %d of the backlog: %v", i, err)
		}
	}
	flooding := mustDevice(t, s, "w1", "wild")
	other := mustDevice(t, s, "w2", "wild")
	late := time.After(time.Minute)
	for flooding.IsConnectionOpen() || other.IsConnectionOpen() {
		for range 200 {
			flooding.Publish("probe/demo/bay-1/p1", 0, false, "garbage")
		}
		select {
		case <-late:
			t.Fatal("a flood goes on for a minute")
		default:
		}
	}
	if _, err := device(s, "w3", "wild", "pw-wild"); err == nil {
		t.Error("it is let in again at once")
	}
	if !backlog.IsConnectionOpen() {
		t.Error("another user was put out with it")
	}
	again := time.NewTicker(100 * time.Millisecond)
	defer again.Stop()
	for {
		c, err := device(s, "w4", "wild", "pw-wild")
		if err == nil {
			c.Disconnect(0)
			return
		}
		select {
		case <-again.C:
		case <-late:
			t.Fatalf("its time is over and it is not let in: %v", err)
		}
	}
}

// A device that sends a burst and is gone before anybody looks is shut out as
// well, and so is one that comes anew for each part of it.
func TestAFloodThatIsGoneIsShutOut(t *testing.T) {
	wild, calm := probe(t, "wild", "probe.demo.bay-1.p1"), probe(t, "calm", "probe.demo.bay-1.p2")
	wild.AtOnce, calm.AtOnce = 200, 200
	s := start(t, natsd.Options{StoreDir: t.TempDir(), MQTT: true, Users: []natsd.User{wild, calm}, ShutFor: time.Minute})
	heard := listen(t, s, "probe.demo.bay-1.p1")
	late := time.After(30 * time.Second)
	each := time.NewTicker(10 * time.Millisecond)
	defer each.Stop()
	for n := 0; ; n++ {
		c, err := device(s, "w", "wild", "pw-wild")
		if err != nil {
			break // it is shut out
		}
		if n == 0 {
			for i := range 5 { // five times fifty, each on a connection of its own, then nothing
				for range 50 {
					c.Publish("probe/demo/bay-1/p1", 0, false, "21.5").Wait()
				}
				for range 50 {
					if _, err := heard.NextMsg(20 * time.Second); err != nil {
						t.Fatal(err)
					}
				}
				c.Disconnect(0)
				if i < 4 {
					c = mustDevice(t, s, "w", "wild")
				}
			}
		}
		c.Disconnect(0)
		select {
		case <-each.C:
		case <-late:
			t.Fatal("250 messages on connections that are closed, 200 are allowed at once, and it may come again")
		}
	}
	mustDevice(t, s, "c", "calm").Disconnect(0)
}
