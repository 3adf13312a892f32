// Package rpc makes the shop's gRPC server and its clients.
//
// Every call, over TCP or inside the process, runs through the same
// interceptors, in this order: the limit on what one client has in flight
// (which never refuses what the gate is asked or told), the deadline, the log
// line, the guard that turns a panic into an internal error, the validation of
// what came in (the rules in the proto files, and that no field was filled in
// that only the server writes), the question whether its teller may say it. A
// handler decodes, calls and returns its error; here alone errors become
// statuses and, on the other side, faults again.
package rpc
