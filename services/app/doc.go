// Package app is the one place where a shop's program is put together:
//
//	NATS server, journal on JetStream, its proof
//	-> follower, floor, writer
//	-> services with their actors -> gRPC, over TCP and inside the process
//	-> screens over HTTP
//
// Nothing else in the tree makes a part out of another. A shop in memory, with
// a clock that is driven, is put together by the same lines as a real one.
package app
