package natsd_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"seamwright/services/journal/natsd"
)

// A probe that runs wild, with sessions, acknowledgements and retained
// messages of a megabyte, leaves nothing on disk beside the journal.
func TestNothingOfMQTTStandsOnDisk(t *testing.T) {
	dir := t.TempDir()
	s := start(t, natsd.Options{StoreDir: dir, MQTT: true, Users: []natsd.User{probe(t, "p1", "probe.demo.bay-1.*")}})
	heard := listen(t, s, "probe.>")
	big := strings.Repeat("x", 900<<10)
	for i := range 12 {
		o := mqtt.NewClientOptions().AddBroker("tcp://" + s.MQTTAddr()).SetClientID(fmt.Sprint("d", i)).SetUsername("p1").SetPassword("pw-p1").SetCleanSession(false)
		c := mqtt.NewClient(o.SetProtocolVersion(4).SetAutoReconnect(false))
		if err := await(c.Connect()); err != nil {
			t.Fatal(err)
		}
		if err := await(c.Publish(fmt.Sprint("probe/demo/bay-1/p", i), 1, true, big)); err != nil {
			t.Fatal(err)
		}
		c.Disconnect(0)
		if m, err := heard.NextMsg(10 * time.Second); err != nil || len(m.Data) != len(big) {
			t.Fatalf("reading %d: %v", i, err)
		}
	}
	// To be acknowledged exactly once is not offered: the client is put out.
	lost := make(chan error, 1)
	o := mqtt.NewClientOptions().AddBroker("tcp://" + s.MQTTAddr()).SetClientID("q2").SetUsername("p1").SetPassword("pw-p1")
	c := mqtt.NewClient(o.SetProtocolVersion(4).SetAutoReconnect(false).SetConnectionLostHandler(func(_ mqtt.Client, err error) { lost <- err }))
	if err := await(c.Connect()); err != nil {
		t.Fatal(err)
	}
	c.Publish("probe/demo/bay-1/p1", 2, false, "21")
	select {
	case <-lost:
	case <-time.After(20 * time.Second):
		t.Error("a publication of quality 2 was taken")
	}
	v, err := s.Varz()
	if err != nil {
		t.Fatal(err)
	}
	if js := v.JetStream.Stats; js.Store != 0 || js.Memory == 0 || js.Memory > 20<<20 {
		t.Errorf("%d bytes on disk, %d in memory, want none and at most 20 MiB", js.Store, js.Memory)
	}
	size := int64(0)
	err = filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		i, err := d.Info()
		if err == nil {
			size += i.Size()
		}
		return err
	})
	if err != nil || size > 64<<10 {
		t.Errorf("%d bytes in the store's folder (%v)", size, err)
	}
}
