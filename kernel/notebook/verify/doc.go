// Package verify runs a notebook again in a fresh session and says whether it
// shows what is stored in it.
//
// A code cell that holds a stored run (outputs, or an execution count) makes a
// claim, and its new outputs are compared with it by package compare. A cell
// that holds none, as in a notebook that is stored clean, claims that it always
// shows the same: the notebook is then run twice, in two fresh sessions, and
// what such cells show must be the same byte for byte.
package verify
