package interp

import (
	"io/fs"
	"os"
	"reflect"

	xr "github.com/cosmos72/gomacro/xreflect"

	"rotorhum/kernel/provenance"
)

// readers are the functions of the standard library that read the file their
// first argument names, by import path.
var readers = map[string][]string{
	"os": {"Open", "ReadFile"}, "io/ioutil": {"ReadFile"},
	"text/template": {"ParseFiles"}, "html/template": {"ParseFiles"},
}

// Provenance returns where the results of the session came from so far. It may
// be called from any goroutine.
func (in *Interp) Provenance() *provenance.Record { return in.origin.Record() }

// noteFiles makes the functions of a package that read files tell the
// session's provenance which.
func (in *Interp) noteFiles(path string) {
	for _, name := range append(readers[path], in.opt.Readers[path]...) {
		in.wrapReader(path, name)
	}
	if path == "os" {
		in.noteOpenFile()
	}
}

// wrapReader notes the file that a function's first argument names. If the
// function's result says what the file's hash is, that is taken: nobody can have
// changed the file between.
func (in *Interp) wrapReader(path, name string) {
	imp := in.ir.Comp.KnownImports[path]
	if imp == nil || imp.Binds[name] == nil {
		return
	}
	f := imp.Vals[imp.Binds[name].Desc.Index()].ReflectValue()
	t := f.Type()
	if t.Kind() != reflect.Func || t.NumIn() == 0 {
		return
	}
	wrapped := reflect.MakeFunc(t, func(args []reflect.Value) []reflect.Value {
		call := f.Call
		if t.IsVariadic() {
			call = f.CallSlice
		}
		out := call(args)
		switch args[0].Kind() {
		case reflect.String:
			in.noteFile(args[0].String(), out)
		case reflect.Slice:
			for i := range args[0].Len() {
				in.noteFile(args[0].Index(i).String(), nil)
			}
		}
		return out
	})
	imp.Vals[imp.Binds[name].Desc.Index()] = xr.ValueOf(wrapped.Interface())
}

// noteFile notes a file that a function has read with the given results.
func (in *Interp) noteFile(name string, results []reflect.Value) {
	if len(results) > 0 && results[0].Kind() == reflect.Pointer && results[0].Type().Elem().Kind() == reflect.Struct {
		if !results[0].IsNil() {
			if sum := results[0].Elem().FieldByName("SHA256"); sum.IsValid() && sum.Kind() == reflect.String {
				if info, err := os.Stat(name); err == nil {
					in.origin.ReadHashed(name, sum.String(), info.Size())
					return
				}
			}
		}
	}
	in.origin.Read(name)
}

// noteOpenFile notes what is opened in the ways of package os that have more to
// them than a name.
func (in *Interp) noteOpenFile() {
	const path = "os"
	in.replaceFunc(path, "OpenFile", func(name string, flag int, perm fs.FileMode) (*os.File, error) {
		if flag&(os.O_WRONLY|os.O_TRUNC) == 0 {
			in.origin.Read(name)
		}
		return os.OpenFile(name, flag, perm)
	})
	in.replaceFunc(path, "DirFS", func(dir string) fs.FS { return &notedFS{os.DirFS(dir), dir, &in.origin} })
	in.replaceFunc(path, "OpenInRoot", func(dir, name string) (*os.File, error) {
		f, err := os.OpenInRoot(dir, name)
		if err == nil {
			in.origin.Read(dir + "/" + name)
		}
		return f, err
	})
	in.replaceFunc(path, "OpenRoot", func(dir string) (*os.Root, error) {
		r, err := os.OpenRoot(dir)
		if err == nil {
			in.origin.Unhashed(dir, "files inside were reached through os.OpenRoot, which does not tell which")
		}
		return r, err
	})
}

// notedFS is a folder whose files are noted when they are opened.
type notedFS struct {
	fs.FS
	dir    string
	origin *provenance.Recorder
}

func (n *notedFS) Open(name string) (fs.File, error) {
	f, err := n.FS.Open(name)
	if err == nil {
		n.origin.Read(n.dir + "/" + name)
	}
	return f, err
}
