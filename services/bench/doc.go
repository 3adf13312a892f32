// Package bench measures what the program promises to be fast at, in one run
// on one machine: a real shop in a temporary folder on the embedded server,
// synced to disk before it acknowledges, against bare JetStream with the same
// stream settings, the same bytes and the same syncing in a folder beside it.
//
// The two sides of a comparison take turns, so that a disk that slows down or
// a neighbour that wakes up hits both. What is told is the median over the
// repetitions, a ratio the median over the pairs. A quick run makes every
// figure with few samples and judges none.
//
// # What each figure covers
//
//   - post-to-ack: one client over TCP on the loopback address posts one fact
//     after the other; from the call to the answer, with validation, decision,
//     append, proof, fold and receipt. Raw: one synchronous publish of the same
//     record inside the process.
//   - appenders: goroutines that each record one fact after the other at the
//     shop's desk, inside the process; durable events per second. Raw: one
//     publisher.
//   - posters: the same from 64 clients over TCP, each with a connection and a
//     terminal of its own.
//   - post-to-screen: from a post over gRPC until a watcher of the wall board
//     has read the server-sent event with the changed row. Raw: from a publish
//     until a consumer of the stream has the message.
//   - reading: what one reading costs the keeper of a zone's clocks: course,
//     due clocks, next due clock. The whole step of the cures service, with the
//     floor's fold of the reading, is told beside it.
//   - clock-memory: heap of the cures service's keeper for each clock that it
//     watches, beside the floor.
//   - replay: a journal on disk is read, decoded, compared with its proof and
//     folded. The file cache is warm: it was just written.
//   - start: the program itself in a process of its own, from its start until
//     it says where it can be reached.
//   - flood: four clients that post with a pause, while a client in a process
//     of its own posts from 64 goroutines over one connection and never waits.
//     That process runs at the lowest priority, since a client elsewhere takes
//     no processor time from the shop.
package bench
