// Package probes takes the readings that probes send over the shop's bus.
//
// It is told each message with the subject that it came on. The subject says
// which probe spoke, and nothing in the message can say otherwise: the bus
// lets each probe publish its own subject only. A reading that bears its time
// is a fact of that time, however late it comes: an old one tells what was
// and makes nothing fresh. A bare number is taken as of its receipt, so a
// probe that keeps messages while it is cut off must send times with them.
// What the bus itself keeps, retained and queued messages, never comes here:
// it goes to subscriptions over MQTT only.
//
// Nothing that a probe sends is fatal. What cannot be taken is counted for
// each probe, and told to the log at most once a minute with its count.
package probes
