package bindings

// Readers lists the functions of our own packages that read the file their
// first argument names, by import path.
var Readers = map[string][]string{
	"rotorhum/tacho":        {"Open", "OpenWith"},
	"rotorhum/tacho/listen": {"Listen"},
	"rotorhum/kernel/show":  {"File"},
}
