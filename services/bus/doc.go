// Package bus holds what goes over a shop's message bus beside the journal:
// the names of the subjects, the messages in JSON, the judge that makes a sign
// out of the beats of a gate, and the latch that keeps a leave from coming back
// by itself.
//
//	probe.<shop>.<zone>.<probe>          readings in, from a probe
//	gate.<shop>.<booth>                  a numbered beat of a booth's gate, twice a second
//	alive.<shop>.<service>.<instance>    a sign of life of a running service, twice a second
//	heard.<shop>.<terminal>              a sign of life of a terminal
//
// Over MQTT a slash stands for each dot. No stream covers these subjects and
// nothing is retained: who was not there has not heard it. The journal's own
// subjects, shop.<shop>.>, belong to the journal.
//
// The package knows no connection: names and messages are plain values, and
// the judge is told what arrived when.
package bus
