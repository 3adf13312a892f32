// Package app is the one place where a shop's program is put together:
//
//	NATS server, journal on JetStream, its proof
//	-> follower, floor, writer
//	-> services with their actors -> gRPC, over TCP and inside the process
//	-> screens over HTTP
//
// A shop is one process, or several that run some of its services each, on a
// NATS server of its own: every one folds the journal into a floor of its own,
// tells by signs of life that it is there, and finds the others by theirs.
//
// Nothing else in the tree makes a part out of another. A shop in memory, with
// a clock that is driven, is put together by the same lines as a real one.
package app
