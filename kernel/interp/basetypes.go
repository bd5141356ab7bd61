package interp

import (
	"reflect"

	"github.com/gopherdata/gophernotes/imports"

	"rotorhum/kernel/ledger"
	"rotorhum/kernel/provenance"
)

// The kernel's own functions return values of these types, whatever else cells can
// import.
func init() {
	known("rotorhum/kernel/ledger", "ledger", map[string]reflect.Type{"List": reflect.TypeFor[ledger.List]()})
	known("rotorhum/kernel/provenance", "provenance", map[string]reflect.Type{"Record": reflect.TypeFor[provenance.Record]()})
}

func known(path, name string, types map[string]reflect.Type) {
	if _, ok := imports.Packages[path]; !ok {
		imports.Packages[path] = imports.Package{Name: name, Types: types}
	}
}
