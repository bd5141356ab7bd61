package interp

import (
	"context"
	"reflect"

	xr "github.com/cosmos72/gomacro/xreflect"
)

// adapt replaces, for this session's cells, the functions of a package that
// would hold up an interrupt or take a detour.
func (in *Interp) adapt(path string) {
	switch path {
	case "fmt":
		in.adaptFmt()
	case "time":
		in.replaceFunc(path, "Sleep", in.sleep)
	}
}

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
