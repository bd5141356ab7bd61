// Package bindings links packages into the kernel so that cells can import
// them, and holds their documentation for completion and help.
//
// The tables are generated from packages.txt. Symbols are registered in the
// Packages map of github.com/gopherdata/gophernotes/imports, which holds most
// of the standard library already. Documentation is kept as text that is read
// when it is first asked for.
//
// Generic functions and types cannot be registered: the interpreter cannot
// call them.
package bindings

//go:generate go run ./gen
