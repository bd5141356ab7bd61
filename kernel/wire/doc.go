// Package wire carries Jupyter messages between front ends and the kernel: the
// connection file, the frames of a message, their signature, and the sockets
// over tcp and ipc. It knows what a message looks like and not what any message
// means; it knows no interpreter.
//
// A message travels as
//
//	[identity..., <IDS|MSG>, signature, header, parent header, metadata, content, buffer...]
//
// where the signature is the keyed hash of the four dictionaries as sent
// (Jupyter messaging specification, "The wire protocol"). [Decode] and [Encode]
// turn frames into a [Message] and back, [Signer] signs and checks, [Bind] opens
// the five sockets of a [Connection].
//
// The sockets are those of github.com/go-zeromq/zmq4 behind a guard of our own
// (peer.go, listener.go). The guard exists because of what the library does when
// a peer misbehaves, each found by reading v0.17.0 and held by a test here: a
// subscriber that stops reading stalls all others; a peer that connects and says
// nothing blocks every later peer; a malformed or unknown first command, or a
// frame that claims an absurd length, ends the process; Close drops what is
// queued.
package wire
