// Package provenance says where the results of a session came from: which
// program computed them, which files it read, which cells ran in which order
// and what of all this another run may find otherwise.
//
// A [Recorder] gathers the facts while a session runs; a [Record] holds them,
// in the form in which they are shown and stored. A record has no times, no
// user and no folder of the machine in it: two runs of the same cells on the
// same files, by the same program, give the same record.
package provenance
