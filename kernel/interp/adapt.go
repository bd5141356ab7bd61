package interp

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"strings"

	xr "github.com/cosmos72/gomacro/xreflect"
)

// adapt replaces, for this session's cells, the functions of a package that
// would hold up an interrupt, take a detour, end the whole process or do what
// another run would not repeat unseen.
func (in *Interp) adapt(path string) {
	switch path {
	case "fmt":
		in.adaptFmt()
	case "time":
		in.replaceFunc(path, "Sleep", in.sleep)
		in.adaptClock()
	case "os":
		in.replaceFunc(path, "Exit", func(code int) { panic(leaving("os.Exit")) })
	case "math/rand":
		in.seedRandomV1()
	case "math/rand/v2":
		in.seedRandomV2()
	case "runtime":
		in.replaceFunc(path, "Goexit", func() { panic(leaving("runtime.Goexit")) })
	case "log":
		in.replaceFunc(path, "Fatal", func(v ...any) { panic(fatal(fmt.Sprint(v...))) })
		in.replaceFunc(path, "Fatalf", func(f string, v ...any) { panic(fatal(fmt.Sprintf(f, v...))) })
		in.replaceFunc(path, "Fatalln", func(v ...any) { panic(fatal(fmt.Sprintln(v...))) })
	}
	in.noteFiles(path)
}

// leaving is the panic of a call that would end the process.
func leaving(what string) error {
	return &failure{fmt.Errorf("%s would end the kernel and lose everything; return from the function instead, or use panic", what)}
}

// fatal is the panic of log.Fatal.
func fatal(text string) error { return &failure{errors.New(strings.TrimSpace(text))} }

// replaceFunc makes cells call f where they name a function of a package.
func (in *Interp) replaceFunc(path, name string, f any) {
	imp := in.ir.Comp.KnownImports[path]
	b := imp.Binds[name]
	if b == nil || b.Type.ReflectType() != reflect.TypeOf(f) {
		return
	}
	imp.Vals[b.Desc.Index()] = xr.ValueOf(f)
}

// Context returns the context of the running cell, which ends when the cell is
// interrupted or over; between cells it has ended already.
func (in *Interp) Context() context.Context {
	in.stop.mu.Lock()
	defer in.stop.mu.Unlock()
	return in.stop.ctx
}
