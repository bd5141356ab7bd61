// Package session decides what a kernel says: which handler answers which
// message, the busy and idle status around every request, execution counts,
// the queue after an error, interrupts, input, history and comms. It speaks
// through [Channel]s of frames and runs code through a cell.Runner, and knows
// neither sockets nor Go source.
//
// A request goes through the same steps whatever happens (session.go): busy,
// its handler from the table in routes.go, one reply, idle. A message that is
// forged, repeated, broken or of an unknown type changes nothing; a handler
// that panics is answered with an error.
//
// Three goroutines receive, one for each of shell, control and stdin; a fourth
// handles shell requests in their order; a fifth owns the interpreter. All
// state lives in one [Session].
//
// Source: "Messaging in Jupyter", the documentation of jupyter_client, protocol
// version 5.4.
package session
