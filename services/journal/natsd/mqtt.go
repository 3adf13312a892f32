package natsd

import (
	"context"
	"errors"
	"time"

	"github.com/nats-io/nats.go/jetstream"

	"seamwright/services/fault"
)

// mqttHabits are settings that the server takes from its configuration's text
// only. A message that is to come exactly once would be kept for each of its
// sender's numbers until the sender releases it, without any bound.
const mqttHabits = "mqtt { reject_qos2_publish: true, downgrade_qos2_subscribe: true }"

// mqttStreams are where the server keeps what MQTT promises its clients:
// sessions, messages that wait for an acknowledgement, retained ones. It
// would make them on disk and without bounds when the first client comes;
// it takes them as it finds them. Here they are in memory, so that
// nothing that comes by MQTT ever stands beside the journal on disk, and
// the oldest gives way when there is too much. What a subscriber on this
// bus hears is the message itself, never a kept one.
func mqttStreams() []jetstream.StreamConfig {
	stream := func(name, subject string, bytes int64, per int64, keep jetstream.RetentionPolicy) jetstream.StreamConfig {
		return jetstream.StreamConfig{
			Name: name, Subjects: []string{subject}, Storage: jetstream.MemoryStorage, Retention: keep,
			Discard: jetstream.DiscardOld, MaxBytes: bytes, MaxMsgsPerSubject: per, MaxMsgs: -1, MaxConsumers: -1, MaxMsgSize: -1, Replicas: 1,
		}
	}
	msgs := stream("$MQTT_msgs", "$MQTT.msgs.>", 8<<20, -1, jetstream.InterestPolicy)
	msgs.MaxAge = 10 * time.Minute
	return []jetstream.StreamConfig{
		stream("$MQTT_sess", "$MQTT.sess.>", 4<<20, 1, jetstream.LimitsPolicy),
		msgs,
		stream("$MQTT_qos2in", "$MQTT.qos2.in.>", 1<<20, 1, jetstream.LimitsPolicy),
		stream("$MQTT_out", "$MQTT.out.>", 1<<20, -1, jetstream.InterestPolicy),
		stream("$MQTT_rmsgs", "$MQTT.rmsgs.>", 4<<20, 1, jetstream.LimitsPolicy),
	}
}

// boundMQTT makes the streams before the first MQTT client comes.
func (s *Server) boundMQTT() error {
	nc, err := s.Connect("mqtt-bounds")
	if err != nil {
		return err
	}
	defer nc.Close()
	js, err := jetstream.New(nc)
	if err != nil {
		return fault.Wrap(err, fault.Unavailable, "server-not-ready", "start again")
	}
	ctx, cancel := context.WithTimeout(context.Background(), s.opt.Ready)
	defer cancel()
	for _, c := range mqttStreams() {
		if err := bound(ctx, js, c); err != nil {
			return fault.Wrap(err, fault.Unavailable, "server-not-ready", "start again")
		}
	}
	return nil
}

// bound makes a stream as it should be. One that a client's haste made first,
// on disk and without bounds, is thrown away: nobody's facts are in it.
func bound(ctx context.Context, js jetstream.JetStream, c jetstream.StreamConfig) error {
	_, err := js.CreateStream(ctx, c)
	if !errors.Is(err, jetstream.ErrStreamNameAlreadyInUse) {
		return err
	}
	if err := js.DeleteStream(ctx, c.Name); err != nil {
		return err
	}
	_, err = js.CreateStream(ctx, c)
	return err
}
