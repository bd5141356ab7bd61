// Package kerneltest tests a kernel's message side in seconds: [Front] is a
// scripted front end that talks to a session in memory, and checks every
// message it gets against the table in fields.go; [Toy] is an interpreter of a
// dozen words that can do everything a cell can do to a session.
//
// Files *_test.py test an installed kernel from outside with Jupyter's own client
// and programs; the project's test script runs them, go test does not.
package kerneltest
